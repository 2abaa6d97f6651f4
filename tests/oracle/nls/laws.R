# SPDX-License-Identifier: GPL-3.0-or-later
# Makes laws_expected.csv from decay_data.csv and phones.csv with R's stats::nls and MASS::rlm. Rscript laws.R, in this folder.
#   profile   limits by root finding on the profile: nls over the other parameters at each fixed value
#   weighted  nls with weights
#   shared    one pair of rates for all subjects, their own amplitudes
#   robust    rlm on the logarithm of the year; bisquare from the Huber fit
library(MASS)
decay <- read.csv("decay_data.csv", comment.char = "#")
wt <- subset(decay, dataset == "wtloss")
indo <- subset(decay, dataset == "indometh")
indo$subject <- factor(indo$subject)
out <- data.frame()
put <- function(case, quantity, value, se = NA) out <<- rbind(out, data.frame(case, quantity, value, se))
tight <- nls.control(maxiter = 500, tol = 1e-7, nDcentral = TRUE)

limits <- function(case, name, best, rss, df, at, span) {
  for (level in c(0.9, 0.95)) {
    target <- rss * (1 + qf(level, 1, df) / df)
    f <- function(v) at(v) - target
    put(case, sprintf("%s low %g", name, level), uniroot(f, c(span[1], best), tol = 1e-10)$root)
    put(case, sprintf("%s high %g", name, level), uniroot(f, c(best, span[2]), tol = 1e-10)$root)
  }
}

solid <- nls(value ~ b0 + b1 * exp(-time / tau), wt, start = list(b0 = 80, b1 = 100, tau = 200), control = tight)
limits("wtloss solid", "tau", coef(solid)[["tau"]], deviance(solid), 49,
       function(v) deviance(lm(value ~ exp(-time / v), wt)), c(150, 300))

stretched <- nls(value ~ b0 + b1 * exp(-(time / tau)^beta), wt, start = list(b0 = 80, b1 = 100, tau = 200, beta = 1),
                 control = nls.control(maxiter = 500, tol = 1e-7, nDcentral = TRUE))
put("wtloss stretched", "rss", deviance(stretched))
given <- function(tau, beta) deviance(lm(value ~ exp(-(time / tau)^beta), wt))
limits("wtloss stretched", "tau", coef(stretched)[["tau"]], deviance(stretched), 48,
       function(v) optimize(function(b) given(v, b), c(0.5, 1.6), tol = 1e-10)$objective, c(165, 330))
limits("wtloss stretched", "beta", coef(stretched)[["beta"]], deviance(stretched), 48,
       function(v) optimize(function(tau) given(tau, v), c(100, 600), tol = 1e-10)$objective, c(0.8, 1.15))
limits("wtloss stretched", "half-life", coef(stretched)[["tau"]] * log(2)^(1 / coef(stretched)[["beta"]]), deviance(stretched), 48,
       function(v) optimize(function(b) given(v / log(2)^(1 / b), b), c(0.5, 1.6), tol = 1e-10)$objective, c(120, 200))
limits("wtloss solid", "plateau", coef(solid)[["b0"]], deviance(solid), 49,
       function(v) optimize(function(tau) deviance(lm(value - v ~ 0 + exp(-time / tau), wt)), c(100, 400), tol = 1e-10)$objective, c(60, 100))
limits("wtloss solid", "initial", coef(solid)[["b0"]] + coef(solid)[["b1"]], deviance(solid), 49,
       function(v) optimize(function(tau) deviance(lm(value - v * exp(-time / tau) ~ 0 + I(1 - exp(-time / tau)), wt)),
                            c(100, 400), tol = 1e-10)$objective, c(180, 190))
phases <- function(who) { # profiles of a subject's two phases without a plateau
  one <- subset(indo, subject == who)
  fit <- nls(value ~ c1 * exp(-time / tau1) + c2 * exp(-time / tau2), one, control = tight,
             start = list(c1 = 2, c2 = 0.6, tau1 = 0.5, tau2 = 3))
  best <- as.list(coef(fit))
  rss <- deviance(fit)
  two <- function(tau1, tau2) deviance(lm(value ~ 0 + exp(-time / tau1) + exp(-time / tau2), one))
  quick <- function(v) optimize(function(w) two(v, w), c(best$tau1, 100), tol = 1e-10)$objective
  slow <- function(v) optimize(function(w) two(w, v), c(0.05, best$tau2), tol = 1e-10)$objective
  amplitude <- function(v) deviance(nls(value ~ v * exp(-time / tau1) + c2 * exp(-time / tau2), one, control = tight,
                                        start = best[c("c2", "tau1", "tau2")]))
  endless <- optimize(function(w) deviance(lm(value ~ exp(-time / w), one)), c(0.05, best$tau2), tol = 1e-10)$objective
  list(best = best, rss = rss, quick = quick, slow = slow, amplitude = amplitude, endless = endless)
}
p <- phases(6)
limits("indometh 6", "tau1", p$best$tau1, p$rss, 7, p$quick, c(0.1, 1))
limits("indometh 6", "tau2", p$best$tau2, p$rss, 7, p$slow, c(1.3, 10))
limits("indometh 6", "c1", p$best$c1, p$rss, 7, p$amplitude, c(1.5, 4))
p <- phases(1) # nothing limits the slow time from above: within the 90 % even where it never ends
put("indometh 1", "F where tau2 has no end", (p$endless - p$rss) / (p$rss / 7))
loose <- update(solid, control = nls.control(tol = 1e-6))
confint95 <- suppressMessages(confint(loose))["tau", ] # MASS: splines through the profile
put("wtloss solid", "tau MASS low 0.95", confint95[[1]])
put("wtloss solid", "tau MASS high 0.95", confint95[[2]])
plateau95 <- suppressMessages(confint(loose))["b0", ]
put("wtloss solid", "plateau MASS low 0.95", plateau95[[1]])
put("wtloss solid", "plateau MASS high 0.95", plateau95[[2]])

weighted <- nls(value ~ b0 + b1 * exp(-time / tau), wt, weights = 1 / (1 + time / 50),
                start = list(b0 = 80, b1 = 100, tau = 200), control = tight)
for (n in c("b0", "b1", "tau")) put("wtloss weighted", n, summary(weighted)$coefficients[n, 1], summary(weighted)$coefficients[n, 2])
put("wtloss weighted", "rss", deviance(weighted))
put("wtloss weighted", "sigma", summary(weighted)$sigma)
put("wtloss weighted", "logLik", as.numeric(logLik(weighted)))

shared <- nls(value ~ A1[subject] * exp(-time / tau1) + A2[subject] * exp(-time / tau2), indo, control = tight,
              start = list(A1 = rep(2.5, 6), A2 = rep(0.5, 6), tau1 = 0.4, tau2 = 3))
s <- summary(shared)$coefficients
for (n in c("tau1", "tau2")) put("indometh shared", n, s[n, 1], s[n, 2])
for (k in 1:6) { put("indometh shared", paste0("A1:", k), s[k, 1]); put("indometh shared", paste0("A2:", k), s[6 + k, 1]) }
put("indometh shared", "rss", deviance(shared))
put("indometh shared", "sigma", summary(shared)$sigma)
put("indometh shared", "logLik", as.numeric(logLik(shared)))

phones <- read.csv("phones.csv", comment.char = "#")
names(phones) <- c("year", "y")
phones$u <- log10(phones$year / 24)
huber <- rlm(y ~ u, phones, maxit = 5000, acc = 1e-13)
bisquare <- rlm(y ~ u, phones, psi = psi.bisquare, init = coef(huber), maxit = 5000, acc = 1e-13)
for (case in c("huber", "bisquare")) {
  m <- summary(get(case))
  put(paste("phones", case), "a", m$coefficients[1, 1], m$coefficients[1, 2])
  put(paste("phones", case), "b", -m$coefficients[2, 1], m$coefficients[2, 2])
  put(paste("phones", case), "scale", m$sigma)
}
con <- file("laws_expected.csv", "w")
cat(sprintf("# %s, MASS %s: made by laws.R\n", R.version.string, packageVersion("MASS")), file = con)
out$value <- sprintf("%.12g", out$value)
out$se <- ifelse(is.na(out$se), "", sprintf("%.12g", out$se))
write.csv(out, con, row.names = FALSE, quote = FALSE)
close(con)
