# SPDX-License-Identifier: GPL-3.0-or-later
# survreg of R's survival (a Weibull fit) on the rows that bench_life wrote, in processor time, and the ratios: Turnbull's
# estimate must take no longer than survreg on the same rows, and both Weibull fits must agree. Rscript bench_life.R FOLDER
suppressMessages(library(survival))
folder <- commandArgs(TRUE)[1]
rows <- read.csv(file.path(folder, "life_rows.csv"))
ours <- read.csv(file.path(folder, "life_times.csv"))
rows$lower[rows$lower == 0] <- NA
rows$upper[is.infinite(rows$upper)] <- NA
met <- TRUE
for (i in seq_len(nrow(ours))) {
  d <- rows[rows$kind == ours$kind[i], ]
  y <- Surv(d$lower, d$upper, type = "interval2") # not timed
  fit <- NULL
  seconds <- min(replicate(5, sum(system.time(fit <<- survreg(y ~ 1))[c("user.self", "sys.self")])))
  agree <- abs(coef(fit)[[1]] - ours$coefficient[i]) < 1e-5
  met <- met && agree && ours$turnbull[i] <= seconds
  cat(sprintf("%-22s survreg %.3f s; Turnbull %.3f s, ratio %.2f (at most 1); Weibull %.3f s, ratio %.2f; fits %s\n",
              ours$kind[i], seconds, ours$turnbull[i], ours$turnbull[i] / seconds, ours$weibull[i],
              ours$weibull[i] / seconds, if (agree) "agree" else "DIFFER"))
}
quit(status = if (met) 0 else 1)
