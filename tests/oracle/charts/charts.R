# SPDX-License-Identifier: GPL-3.0-or-later
# Makes constants_large.csv and dependence.csv, expected values of tests/stats/test_chart_*.c:
#   Rscript charts.R   (in this folder; recorded with R 4.2.2)
# Ranges by another formula than the program's:
#   E R   = integral of 1 - Phi(x)^n - (1 - Phi(x))^n
#   E R^2 = 2 * integral over x < y of 1 - Phi(y)^n - (1 - Phi(x))^n + (Phi(y) - Phi(x))^n   (Tippett 1925)
range_mean <- function(n)
  integrate(function(x) 1 - pnorm(x)^n - pnorm(x, lower = FALSE)^n, -Inf, Inf,
            rel.tol = 1e-12, subdivisions = 5000)$value
range_square <- function(n)
  2 * integrate(function(xs) sapply(xs, function(x)
    integrate(function(y) 1 - pnorm(y)^n - pnorm(x, lower = FALSE)^n + (pnorm(y) - pnorm(x))^n, x, 12,
              rel.tol = 1e-11, abs.tol = 1e-14, subdivisions = 5000)$value),
    -12, 12, rel.tol = 1e-10, subdivisions = 5000)$value
rows <- t(sapply(c(2, 5, 10, 25, 26, 30, 40, 50, 64, 75, 99, 100), function(n) {
  d2 <- range_mean(n)
  c(n, d2, sqrt(range_square(n) - d2^2), sqrt(2 / (n - 1)) * exp(lgamma(n / 2) - lgamma((n - 1) / 2)))
}))
out <- file("constants_large.csv", "w")
cat("# R 4.2.2: charts.R in this folder\nn,d2,d3,c4\n", file = out)
cat(sprintf("%d,%.10f,%.9f,%.12f\n", as.integer(rows[, 1]), rows[, 2], rows[, 3], rows[, 4]), sep = "", file = out)
close(out)

# First autocorrelations by stats::acf.
out <- file("dependence.csv", "w")
cat("# R 4.2.2: acf(x)$acf[2] of datasets lh and Nile\nset,lag1\n", file = out)
cat(sprintf("%s,%.12f\n", c("lh", "nile"), c(acf(lh, plot = FALSE)$acf[2], acf(Nile, plot = FALSE)$acf[2])),
    sep = "", file = out)
close(out)
