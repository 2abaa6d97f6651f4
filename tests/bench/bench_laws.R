# SPDX-License-Identifier: GPL-3.0-or-later
# R's nls and MINPACK (minpack.lm::nls.lm, analytic Jacobian) on the data that bench_laws wrote, then the comparison of
# all solvers: microseconds of processor time a fit, fits converged, and the sum of squares against tenter's.
# Rscript bench_laws.R FOLDER
suppressMessages(library(minpack.lm))
folder <- commandArgs(TRUE)[1]
data <- read.csv(file.path(folder, "laws_data.csv"))
fits <- read.csv(file.path(folder, "laws_fits.csv"))
sets <- split(data[c("t", "y")], data$series)

start_of <- function(d) list(plateau = d$y[nrow(d)], initial = d$y[1], tau = 100, beta = 0.7)
fit_nls <- function(d) {
  m <- tryCatch(nls(y ~ plateau + (initial - plateau) * exp(-(t / tau)^beta), d, start = start_of(d)),
                error = function(e) NULL)
  if (is.null(m)) c(0, NA) else c(1, deviance(m))
}
residual <- function(p, d) d$y - (p$plateau + (p$initial - p$plateau) * exp(-(d$t / p$tau)^p$beta))
jacobian <- function(p, d) {
  z <- (d$t / p$tau)^p$beta
  decay <- exp(-z)
  slope <- (p$initial - p$plateau) * decay * z
  -c(1 - decay, decay, slope * p$beta / p$tau, -slope * log(d$t / p$tau))
}
control <- nls.lm.control(ftol = 1e-10, ptol = 1e-10, maxiter = 200)
fit_minpack <- function(d) {
  m <- tryCatch(nls.lm(start_of(d), fn = residual, jac = jacobian, control = control, d = d), error = function(e) NULL)
  if (is.null(m)) c(0, NA) else c(as.numeric(m$info %in% 1:4), m$deviance)
}

time_of <- function(fit) {
  lapply(sets, fit) # compiled by now
  1e6 * min(replicate(7, sum(system.time(for (d in sets) fit(d))[c("user.self", "sys.self")]))) / length(sets)
}
all <- list()
for (name in c("tenter", "gsl", "gsl_analytic")) {
  own <- fits[fits$solver == name, ]
  timing <- own$series == "time"
  all[[name]] <- list(us = own$rss[timing], converged = own$converged[!timing] == 1, rss = own$rss[!timing])
}
for (name in c("nls", "minpack")) {
  fit <- if (name == "nls") fit_nls else fit_minpack
  got <- vapply(sets, fit, c(0, 0))
  all[[name]] <- list(us = time_of(fit), converged = got[1, ] == 1, rss = got[2, ])
}

ours <- all$tenter
cat(sprintf("%-13s %9s %7s %10s %22s %22s\n", "solver", "us a fit", "ratio", "converged", "worst rss ours/theirs",
            "theirs lower by 1e-8"))
for (name in names(all)) {
  it <- all[[name]]
  both <- it$converged & ours$converged
  ratio <- ours$rss[both] / it$rss[both]
  cat(sprintf("%-13s %9.2f %7.1f %6d/%d %22.10f %22d\n", name, it$us, it$us / ours$us, sum(it$converged), length(sets),
              max(ratio), sum(ratio > 1 + 1e-8)))
}
target <- c(nls = 100, minpack = 15, gsl = 3)
met <- sapply(names(target), function(n) all[[n]]$us / ours$us >= target[[n]] &&
                sum(ours$converged) >= sum(all[[n]]$converged) &&
                all(ours$rss <= all[[n]]$rss * (1 + 1e-8), na.rm = TRUE))
cat(sprintf("%s: at least %g times: %s\n", names(target), target, ifelse(met, "met", "NOT met")), sep = "")
quit(status = if (all(met)) 0 else 1)
