# SPDX-License-Identifier: GPL-3.0-or-later
# Makes bivariate.csv, greatest.csv, range.csv, quantiles.csv, studentized_range.csv, compare.csv,
# line_expected.csv, line_robust.csv,
# additive.csv and additive_expected.csv, expected values of tests/stats/test_*.c:
#   Rscript numerics.R   (in this folder; recorded with R 4.2.2, mvtnorm 1.1-3, MASS 7.3-58.2)
write_rows <- function(name, comment, rows) {
  out <- file(name, "w")
  cat("# ", comment, "\n", sep = "", file = out)
  write.table(format(rows, digits = 15, trim = TRUE), out, sep = ",", quote = FALSE, row.names = FALSE)
  close(out)
}

# ---- two normals: Genz's code in mvtnorm ----
library(mvtnorm)
g <- expand.grid(h = c(-3, -1.2, 0, 0.4, 2.5), k = c(-2, 0, 0.4, 1.7),
                 rho = c(-1, -0.999999, -0.97, -0.5, 0, 0.2, 0.8, 0.93, 0.9999, 1))
g$p <- mapply(function(h, k, r)
  pmvnorm(c(h, k), c(Inf, Inf), corr = matrix(c(1, r, r, 1), 2), algorithm = TVPACK(abseps = 1e-15)),
  g$h, g$k, g$rho)
write_rows("bivariate.csv", "R 4.2.2, mvtnorm 1.1-3: pmvnorm(c(h, k), Inf, corr, algorithm = TVPACK(1e-15)), P(X > h, Y > k)", g)

# ---- quantiles; the greatest of k ----
p <- c(1e-300, 1e-20, 1e-5, 0.025, 0.3, 0.5, 0.95, 0.999999)
write_rows("quantiles.csv", "R 4.2.2: qnorm(p)", data.frame(p = p, z = qnorm(p)))
g <- expand.grid(k = c(1, 2, 9, 18, 100), p = c(0.5, 0.9, 0.95, 0.999))
g$z <- qnorm((1 + g$p^(1 / g$k)) / 2)
write_rows("greatest.csv", "R 4.2.2: qnorm((1 + p^(1/k)) / 2)", g)

# ---- range of equal normals ----
g <- expand.grid(n = c(2, 3, 5, 9, 18, 50), r = c(0.5, 1.5, 2.5, 3.5, 5))
g$p <- ptukey(g$r, g$n, Inf)
write_rows("range.csv", "R 4.2.2: ptukey(r, n, Inf)", g)

# ---- lines: a log law read nine times ----
hours <- c(1, 4, 24, 70, 170, 350, 700, 1500, 3000)
u <- log10(hours / 24)
y <- c(26.1, 25.2, 24.1, 23.7, 23.1, 22.8, 22.6, 22.1, 21.9)
w <- c(0.5, 1, 1, 2, 1, 1, 0.7, 1, 3)
row <- function(case, weight, sigma) {
  f <- lm(y ~ u, weights = weight)
  s <- summary(f)
  v <- vcov(f)
  if (!is.na(sigma)) v <- s$cov.unscaled * sigma^2
  at <- predict(f, data.frame(u = 2.5), se.fit = TRUE)
  data.frame(case = case, level = coef(f)[1], slope = coef(f)[2], level_se = sqrt(v[1, 1]),
             slope_se = sqrt(v[2, 2]), cov = v[1, 2], sigma = if (is.na(sigma)) s$sigma else sigma,
             rss = deviance(f), at = at$fit,
             at_se = if (is.na(sigma)) at$se.fit else at$se.fit * sigma / s$sigma)
}
write_rows("line_expected.csv", "R 4.2.2: lm(y ~ u, weights), vcov, predict(u = 2.5, se.fit); see numerics.R",
           rbind(row("plain", rep(1, 9), NA), row("weighted", w, NA), row("known", w, 0.4)))

# ---- robust line: the seventh session read a newton low; rlm's fixed point from good starts ----
library(MASS)
bad <- y
bad[7] <- 21.2
f <- rlm(y ~ u, data.frame(y = bad, u = u), weights = w, psi = psi.bisquare, maxit = 500, acc = 1e-14,
         init = coef(lm(y ~ u)))
write_rows("line_robust.csv",
           "R 4.2.2, MASS 7.3-58.2: rlm(psi = psi.bisquare, weights, acc = 1e-14); see numerics.R",
           data.frame(quantity = c("level", "slope", "level_se", "slope_se", "scale", paste0("w", 1:9)),
                      value = c(coef(f), summary(f)$coefficients[, 2], f$s, f$w)))

# ---- additive: 30 sessions of 6 groups, 7 points, uneven layouts, some gross misreads ----
set.seed(20)
d <- do.call(rbind, lapply(1:30, function(s) {
  at <- sort(sample(1:7, sample(3:7, 1)))
  if (s %% 7 == 0) at <- sort(c(at, at[1]))  # a point read twice
  data.frame(session = s, group = (s - 1) %/% 5 + 1, point = at)
}))
own <- matrix(rnorm(6 * 7, 0, 0.5), 6)
level <- rnorm(30, 22, 1)
d$value <- round(level[d$session] + c(-1, -0.5, 0, 0.2, 0.3, 0.4, 0.6)[d$point] +
                 own[cbind(d$group, d$point)] + rnorm(nrow(d), 0, 0.3), 2)
d$weight <- round(runif(nrow(d), 0.5, 2), 2)
d$wrong <- d$value
d$wrong[c(5, 40, 90)] <- c(2.2, 32.5, 12.3)
write_rows("additive.csv", "made by numerics.R; wrong: value with three misread numbers", d)

d$s <- factor(d$session); d$p <- factor(d$point); d$g <- factor(d$group)
effects <- function(f) { e <- coef(f)[grep("^p", names(coef(f)))]; c(e, -sum(e)) }
options(contrasts = c("contr.sum", "contr.sum"))
expected <- data.frame(case = character(), quantity = character(), value = numeric())
add <- function(case, quantity, value)
  expected <<- rbind(expected, data.frame(case = case, quantity = quantity, value = value))

# Huber with proposal 2, as MASS gives it
for (case in c("value", "wrong", "weighted")) {
  y <- if (case == "wrong") d$wrong else d$value
  wt <- if (case == "weighted") d$weight else rep(1, nrow(d))
  f <- rlm(y ~ s + p, d, weights = wt, scale.est = "proposal 2", maxit = 2000, acc = 1e-15)
  add(case, paste0("effect", 1:7), effects(f))
  add(case, "scale", f$s)
}
# Henderson's method 3 by lm and explicit projections
henderson <- function(case, y, wt, keep) {
  x <- d[keep, ]; y <- y[keep]; wt <- wt[keep]
  x$cell <- factor(paste(x$g, x$p))
  f0 <- lm(y ~ s + p, x, weights = wt)
  f1 <- lm(y ~ s + cell, x, weights = wt)
  reading <- deviance(f1) / df.residual(f1)
  X <- model.matrix(f0) * sqrt(wt)
  Z <- model.matrix(~ 0 + cell, x) * sqrt(wt)
  q <- qr(X)
  share <- sum((Z - qr.fitted(q, Z))^2)
  df <- df.residual(f0) - df.residual(f1)
  square <- (deviance(f0) - deviance(f1)) / df
  pattern <- (square - reading) * df / share
  add(case, "sd_reading", sqrt(reading)); add(case, "df_reading", df.residual(f1))
  add(case, "sd_pattern", sqrt(max(0, pattern)))
  add(case, "df_pattern", (square - reading)^2 / (square^2 / df + reading^2 / df.residual(f1)))
  # se of the effects under both variances, Huber's 95 % efficiency
  C <- rbind(diag(6), -1)
  M <- chol2inv(qr.R(q))[order(q$pivot), order(q$pivot)]
  at <- grep("^p[0-9]", colnames(X))
  V <- M %*% t(X) %*% (reading * diag(nrow(X)) + max(0, pattern) * Z %*% t(Z)) %*% X %*% M
  add(case, paste0("se", 1:7), sqrt(diag(C %*% V[at, at] %*% t(C)) / 0.95))
}
henderson("value", d$value, rep(1, nrow(d)), rep(TRUE, nrow(d)))
henderson("weighted", d$value, d$weight, rep(TRUE, nrow(d)))
keep <- rep(TRUE, nrow(d)); keep[c(5, 40, 90)] <- FALSE
henderson("wrong", d$wrong, rep(1, nrow(d)), keep)
write_rows("additive_expected.csv",
           "R 4.2.2, MASS 7.3-58.2: rlm(y ~ s + p, scale.est = 'proposal 2', contr.sum); Henderson's method 3 from lm; see numerics.R",
           expected)

# ---- the studentised range: its definition by integrate; ptukey is off by up to 1e-4 for df = 2 ----
g <- expand.grid(k = c(2, 3, 5, 10, 40), df = c(2, 5, 20, 120, 5000), q = c(0.5, 2, 3.5, 5, 9))
range_above <- function(r, k) sapply(r, function(r) {
  f <- function(x) k * dnorm(x) * (pnorm(x + r) - pnorm(x))^(k - 1)
  1 - integrate(f, -9, 9, rel.tol = 1e-12, abs.tol = 1e-15, subdivisions = 1000)$value
})
g$p <- mapply(function(k, df, q) {
  top <- df / 2 * log(df / 2) - lgamma(df / 2) + log(2)
  f <- function(x) exp(top + df * x - df / 2 * exp(2 * x)) * range_above(q * exp(x), k) # x = log s
  low <- -30 / df - 8 / sqrt(2 * df)
  integrate(f, low, min(3, 9 / sqrt(2 * df)), rel.tol = 1e-10, abs.tol = 1e-14, subdivisions = 1000)$value
}, g$k, g$df, g$q)
stopifnot(max(abs(g$p - ptukey(g$q, g$k, g$df, lower.tail = FALSE))) < 2e-4)
write_rows("studentized_range.csv", "R 4.2.2: the definition by integrate (and ptukey within 2e-4); see numerics.R", g)

# ---- comparisons of means: Dobson's plants, 10 each; chicks of six feeds, 10 to 14 each ----
compare <- function(set, y, group) {
  model <- lm(y ~ 0 + group)
  k <- nlevels(group)
  tukey <- TukeyHSD(aov(y ~ group))$group
  at <- strsplit(rownames(tukey), "-")
  rows <- lapply(levels(group), function(g) {
    contrast <- ifelse(levels(group) == g, 1, -1 / (k - 1))
    t <- sum(contrast * coef(model)) / sqrt(drop(contrast %*% vcov(model) %*% contrast))
    above <- sapply(seq_along(at), function(i) (at[[i]][1] == g && tukey[i, "diff"] > 0) ||
                                                (at[[i]][2] == g && tukey[i, "diff"] < 0))
    own <- y[group == g]
    data.frame(set = set, count = length(own), mean = mean(own), sd = sd(own),
               p = pt(t, df.residual(model), lower.tail = FALSE), pair = min(1, tukey[above, "p adj"]),
               above = sum(tukey[above, "p adj"] <= 0.05))
  })
  do.call(rbind, rows)
}
write_rows("compare.csv", "R 4.2.2, datasets PlantGrowth (Dobson 1983) and chickwts: lm contrasts against the mean of the others, TukeyHSD; see numerics.R",
           rbind(compare("plants", PlantGrowth$weight, PlantGrowth$group),
                 compare("chicks", chickwts$weight, chickwts$feed)))
