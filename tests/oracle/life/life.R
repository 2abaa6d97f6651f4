# SPDX-License-Identifier: GPL-3.0-or-later
# Makes expected.csv, values that tests/stats/test_life_*.c, test_kaplan_meier.c and test_renewal.c compare with:
#   Rscript life.R [FOLDER]   (in this folder; recorded with R 4.2.2, survival 3.5-3)
# Of data.csv: survreg (coefficients, standard errors, covariance, log-likelihood, quantiles), survfit (Kaplan and
# Meier, Greenwood, limits of log(-log S), quantiles); profile likelihood by optimize and uniroot; age replacement by
# optimize and integrate.
suppressMessages(library(survival))
to <- c(commandArgs(TRUE), ".")[1]
all <- read.csv("data.csv", comment.char = "#")
out <- file(file.path(to, "expected.csv"), "w")
cat("# R 4.2.2, survival 3.5-3: life.R in this folder\nmodel,quantity,value\n", file = out)
put <- function(model, quantity, value) cat(sprintf("%s,%s,%.12g\n", model, quantity, value), sep = "", file = out)
rows_of <- function(set) {
  d <- all[all$set == set, ]
  d$lower[d$lower == 0] <- NA
  d$upper[is.infinite(d$upper)] <- NA
  d
}

# ---- laws ----
tight <- survreg.control(maxiter = 200, rel.tolerance = 1e-14, toler.chol = 1e-14)
laws <- c("exponential", "weibull", "lognormal", "loglogistic")
fit_law <- function(set, dist, formula = "1", at = list(), weight = NULL, label = set) {
  d <- rows_of(set)
  d$case <- if (is.null(weight)) d$weight else weight(nrow(d))
  m <- survreg(as.formula(paste("Surv(lower, upper, type = 'interval2') ~", formula)), d, weights = case, dist = dist,
               control = tight)
  model <- paste(label, dist, sep = ":")
  k <- length(coef(m))
  v <- vcov(m)
  put(model, paste0("b", seq_len(k) - 1), coef(m))
  put(model, paste0("se", seq_len(k) - 1), sqrt(diag(v))[seq_len(k)])
  put(model, "scale", m$scale)
  if (dist != "exponential") {
    put(model, "se_log_scale", sqrt(v[k + 1, k + 1]))
    put(model, "cov_b0_log_scale", v[1, k + 1])
  }
  put(model, "loglik", m$loglik[length(m$loglik)])
  q <- predict(m, newdata = as.data.frame(c(list(dummy = 1), at)), type = "uquantile", p = c(0.01, 0.1, 0.5), se = TRUE)
  for (i in 1:3) {
    half <- qnorm(0.975) * c(q$se.fit)[i]
    put(model, paste0("B", c(1, 10, 50)[i], c("", "_low", "_high")), exp(c(q$fit)[i] + c(0, -half, half)))
  }
}
for (set in c("nist", "genfan", "turbine", "cracks", "bcdeter1", "bcdeter2", "lung", "aircondit"))
  for (dist in laws) fit_law(set, dist)
for (dist in laws) {
  fit_law("aml", dist, "x1", list(x1 = 1))
  fit_law("ifluid", dist, "log(x1)", list(x1 = 30))
  fit_law("imotor", dist, "I(1 / (x1 + 273.2))", list(x1 = 130))
  fit_law("motors", dist, "x1", list(x1 = 130))
  fit_law("capacitor", dist, "log(x1) + x2", list(x1 = 250, x2 = 180))
  fit_law("capacitor", dist, "log(x1) + x2", list(x1 = 250, x2 = 180), function(n) 1 + (seq_len(n) - 1) %% 3,
          "capacitor weighted")
}

# ---- profile likelihood of a quantile ----
# log T = y + s (W - w): the likelihood over s at each y, by the densities themselves.
law_of <- list(weibull = list(p = function(w) 1 - exp(-exp(w)), d = function(w) exp(w - exp(w)), q = function(p) log(-log1p(-p))),
               lognormal = list(p = pnorm, d = dnorm, q = qnorm),
               loglogistic = list(p = plogis, d = dlogis, q = qlogis))
profile_of <- function(set, dist, p, level = 0.95) {
  d <- all[all$set == set, ]
  law <- law_of[[dist]]
  exact <- d$lower == d$upper
  loglik <- function(y, s) {
    low <- (log(d$lower) - y) / s + law$q(p)
    high <- (log(d$upper) - y) / s + law$q(p)
    sum(d$weight * ifelse(exact, log(law$d(low)) - log(s), log(law$p(high) - law$p(low))))
  }
  best <- function(y) optimize(function(ls) max(loglik(y, exp(ls)), -1e9), c(-6, 4), maximum = TRUE, tol = 1e-12)$objective
  m <- survreg(Surv(lower, upper, type = "interval2") ~ 1, rows_of(set), weights = weight, dist = dist, control = tight)
  centre <- coef(m)[[1]] + m$scale * law$q(p)
  top <- best(centre)
  drop <- qchisq(level, 1) / 2
  f <- function(y) top - best(y) - drop
  exp(c(uniroot(f, centre - c(4, 1e-6), tol = 1e-11)$root, uniroot(f, centre + c(1e-6, 4), tol = 1e-11)$root))
}
for (dist in names(law_of))
  for (set in c("nist", "cracks", "bcdeter1"))
    put(paste(set, dist, sep = ":"), paste0("B10_profile_", c("low", "high")), profile_of(set, dist, 0.1))

# ---- Kaplan and Meier ----
kaplan_meier <- function(label, d, w = rep(1, nrow(d))) {
  d$case <- w
  m <- survfit(Surv(lower, as.numeric(lower == upper)) ~ 1, d, weights = case, conf.type = "log-log", error = "greenwood")
  keep <- m$n.event > 0 & m$surv > 0
  put(label, paste0("S", m$time[keep]), m$surv[keep])
  put(label, paste0("se", m$time[keep]), m$std.err[keep] * m$surv[keep])
  put(label, paste0("low", m$time[keep]), m$lower[keep])
  put(label, paste0("high", m$time[keep]), m$upper[keep])
  q <- quantile(m, c(0.1, 0.25, 0.5))
  for (part in c("quantile", "lower", "upper"))
    put(label, paste0(part, c(10, 25, 50)), ifelse(is.na(q[[part]]), Inf, q[[part]]))
}
aml <- all[all$set == "aml", ]
kaplan_meier("km aml0", aml[aml$x1 == 0, ])
kaplan_meier("km aml1", aml[aml$x1 == 1, ])
kaplan_meier("km lung", all[all$set == "lung", ])
kaplan_meier("km lung weighted", all[all$set == "lung", ], 1 + (seq_len(228) - 1) %% 3)

# ---- age replacement of other laws ----
renewal <- function(label, S, planned, failure, from, to) {
  exposure <- function(t) integrate(S, 0, t, rel.tol = 1e-12, subdivisions = 2000)$value
  rate <- function(t) (planned * S(t) + failure * (1 - S(t))) / exposure(t)
  best <- optimize(rate, c(from, to), tol = 1e-10)
  put(label, c("age", "rate", "exposure"), c(best$minimum, best$objective, exposure(best$minimum)))
}
renewal("renewal lognormal 0.3", function(t) plnorm(t, log(40), 0.3, lower = FALSE), 1, 5, 5, 60)
renewal("renewal lognormal 0.6", function(t) plnorm(t, log(40), 0.6, lower = FALSE), 1, 8, 5, 60)
renewal("renewal loglogistic 0.2", function(t) plogis((log(t) - log(40)) / 0.2, lower = FALSE), 2, 9, 5, 60)
close(out)
