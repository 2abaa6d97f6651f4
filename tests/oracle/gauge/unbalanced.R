# Studies made unbalanced by leaving out rows, by restricted maximum likelihood (lme4): makes unbalanced.csv.
# Thermal impedance without every 7th and 11th row, and without part 3 of inspector 2; AIAG without every 5th.
suppressMessages(library(lme4))
rows <- function(name) read.csv(paste0(name, ".csv"), comment.char = "#")
control <- lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-12, maxfun = 1e5), check.conv.singular = "ignore")
out <- NULL
fit <- function(name, d, formula) {
  m <- lmer(formula, d, REML = TRUE, control = control)
  v <- as.data.frame(VarCorr(m))
  out <<- rbind(out, data.frame(study = name, quantity = c(paste0("var:", v$grp), "logLik", "mean"),
                                value = c(v$vcov, as.numeric(logLik(m)), fixef(m)[[1]])))
}
d <- rows("grr_thermal_impedance")
i <- seq_len(nrow(d))
d <- d[!(i %% 7 == 0 | i %% 11 == 0 | (d$op == 2 & d$part == 3)), ]
fit("thermal", d, y ~ 1 + (1 | part) + (1 | op) + (1 | part:op))
d <- rows("grr_aiag")
d <- d[seq_len(nrow(d)) %% 5 != 0, ]
fit("aiag", d, y ~ 1 + (1 | part) + (1 | op))
out$value <- trimws(format(out$value, digits = 10))
cat("# R", as.character(getRversion()), "lme4", as.character(packageVersion("lme4")), "\n", file = "unbalanced.csv")
write.table(out, "unbalanced.csv", append = TRUE, sep = ",", quote = FALSE, row.names = FALSE, col.names = FALSE)
