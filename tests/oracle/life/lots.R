# SPDX-License-Identifier: GPL-3.0-or-later
# Prints what tests/judge/test_interval_lots.c compares with: `Rscript lots.R` (R 4.2.2, survival 3.5-3). Lives of three lots
# of one mesh in days, by Turnbull's estimate and by a Weibull law, each lot alone and all together; quantiles of 35 %.
suppressMessages(library(survival))
lots <- list(
  A = rbind(c(5, 20), c(20, 40), c(20, 40), c(40, 80), c(40, 80), c(40, 80), c(80, NA), c(80, NA), c(80, NA), c(80, NA)),
  B = rbind(c(NA, 5), c(5, 20), c(5, 20), c(5, 20), c(20, 40), c(20, 40), c(40, NA), c(80, NA)),
  C = rbind(c(20, 40), c(40, 80), c(80, NA), c(80, NA)))
lots$all <- do.call(rbind, lots)
for (name in names(lots)) {
  d <- lots[[name]]
  s <- Surv(d[, 1], d[, 2], type = "interval2")
  f <- survfit(s ~ 1)
  w <- survreg(s ~ 1, dist = "weibull", control = survreg.control(maxiter = 200, rel.tolerance = 1e-14))
  cat(sprintf("%-3s within an interval about %g (survival %s); Weibull shape %.8f scale %.6f, 35 %% at %.6f\n", name,
              f$time[which(f$surv <= 0.65)[1]], paste(signif(f$surv, 5), collapse = " "), 1 / w$scale, exp(coef(w)),
              predict(w, type = "quantile", p = 0.35)[1]))
}
