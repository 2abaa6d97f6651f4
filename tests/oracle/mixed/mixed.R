# SPDX-License-Identifier: GPL-3.0-or-later
# Makes the data and the expected values of tests/stats/test_nested_fit.c with R, lme4 and nlme:
#   Rscript mixed.R OUTPUT-FOLDER
# Recorded with R 4.2.2, lme4 1.1-31, nlme 3.1-162.
#
# data.csv      set,block,group,unit,u,y,x1,x2
# expected.csv  model,method,quantity,value
# blups.csv     model,level (group or unit),key,term,blup,cond_sd      (REML fits)
#
# Data sets: Dyestuff, Dyestuff2, Pastes, sleepstudy of lme4; Rail, Oxboys, Orthodont, Machines,
suppressMessages({ library(lme4); library(nlme) })
folder <- commandArgs(TRUE)[1]
tight <- lmerControl(optimizer = "bobyqa", optCtrl = list(rhobeg = 0.1, rhoend = 1e-10, maxfun = 1e6),
                     check.conv.singular = "ignore", calc.derivs = FALSE)
digits <- function(x) trimws(formatC(x, digits = 15, format = "g"))

removed <- c(3, 4, 17, 28, 29, 30, 41, 55, 56, 77, 78, 79, 80, 99, 120, 133, 134, 150, 151, 152, 171, 180)
unbalanced <- sleepstudy[-removed, ]
orthodont <- as.data.frame(Orthodont); orthodont$Subject <- factor(as.character(orthodont$Subject))
orthodont$age11 <- orthodont$age - 11
orthodont$female <- as.numeric(orthodont$Sex == "Female")
oxboys <- as.data.frame(Oxboys); oxboys$Subject <- factor(as.character(oxboys$Subject))
oxboys$age2 <- oxboys$age^2
machines <- as.data.frame(Machines); machines$Worker <- factor(as.character(machines$Worker))
machines$B <- as.numeric(machines$Machine == "B"); machines$C <- as.numeric(machines$Machine == "C")
wafer <- as.data.frame(Wafer); wafer$Wafer <- factor(as.character(wafer$Wafer)); wafer$Site <- factor(as.character(wafer$Site))
wafer$v2 <- wafer$voltage^2
rail <- as.data.frame(Rail); rail$Rail <- factor(as.character(rail$Rail))
n <- function(d) rep(0, nrow(d))

# set = list(data, block, group, unit, u, y, x1, x2)
sets <- list(
  Dyestuff = list(Dyestuff, n, n, function(d) d$Batch, n, function(d) d$Yield, n, n),
  Dyestuff2 = list(Dyestuff2, n, n, function(d) d$Batch, n, function(d) d$Yield, n, n),
  Rail = list(rail, n, n, function(d) d$Rail, n, function(d) d$travel, n, n),
  Pastes = list(Pastes, n, function(d) d$batch, function(d) d$sample, n, function(d) d$strength, n, n),
  sleepstudy = list(sleepstudy, n, n, function(d) d$Subject, function(d) d$Days, function(d) d$Reaction, n, n),
  sleepstudy_unbalanced = list(unbalanced, n, n, function(d) d$Subject, function(d) d$Days, function(d) d$Reaction, n, n),
  Oxboys = list(oxboys, n, n, function(d) d$Subject, function(d) d$age, function(d) d$height, function(d) d$age2, n),
  Orthodont = list(orthodont, function(d) d$female, n, function(d) d$Subject, function(d) d$age11, function(d) d$distance, function(d) d$female, n),
  Machines = list(machines, n, function(d) d$Worker, function(d) paste(d$Worker, d$Machine), n, function(d) d$score, function(d) d$B, function(d) d$C),
  Wafer = list(wafer, n, function(d) d$Wafer, function(d) paste(d$Wafer, d$Site), function(d) d$voltage, function(d) d$current, function(d) d$v2, n))
keys <- function(x) as.integer(factor(as.character(x), levels = unique(as.character(x)))) - 1

table <- do.call(rbind, lapply(names(sets), function(name) {
  s <- sets[[name]]; d <- s[[1]]
  data.frame(set = name, block = s[[2]](d), group = keys(s[[3]](d)), unit = keys(s[[4]](d)),
             u = digits(s[[5]](d)), y = digits(s[[6]](d)), x1 = digits(s[[7]](d)), x2 = digits(s[[8]](d)))
}))
table <- table[order(match(table$set, names(sets)), table$group, table$unit), ]
write.csv(table, file.path(folder, "data.csv"), row.names = FALSE, quote = FALSE)

# model = list(set, formula, group factor or "", unit factor or "", names of the fixed effects as
# they are called in expected.csv)
models <- list(
  Dyestuff = list("Dyestuff", Yield ~ 1 + (1 | Batch), "", "Batch"),
  Dyestuff2 = list("Dyestuff2", Yield ~ 1 + (1 | Batch), "", "Batch"),
  Rail = list("Rail", travel ~ 1 + (1 | Rail), "", "Rail"),
  Pastes = list("Pastes", strength ~ 1 + (1 | batch) + (1 | sample), "batch", "sample"),
  sleepstudy_slope = list("sleepstudy", Reaction ~ Days + (Days | Subject), "", "Subject"),
  sleepstudy_int = list("sleepstudy", Reaction ~ Days + (1 | Subject), "", "Subject"),
  sleepstudy_unbal_slope = list("sleepstudy_unbalanced", Reaction ~ Days + (Days | Subject), "", "Subject"),
  sleepstudy_unbal_int = list("sleepstudy_unbalanced", Reaction ~ Days + (1 | Subject), "", "Subject"),
  Oxboys_slope = list("Oxboys", height ~ age + age2 + (age | Subject), "", "Subject"),
  Orthodont_int = list("Orthodont", distance ~ age11 + female + (1 | Subject), "", "Subject"),
  Orthodont_slope = list("Orthodont", distance ~ age11 + (age11 | Subject), "", "Subject"),
  Orthodont_blocks = list("Orthodont", distance ~ 0 + factor(female) + factor(female):age11 + (age11 | Subject), "", "Subject"),
  Machines = list("Machines", score ~ B + C + (1 | Worker) + (1 | Worker:Machine), "Worker", "Worker:Machine"),
  Wafer_int = list("Wafer", current ~ voltage + v2 + (1 | Wafer) + (1 | Wafer:Site), "Wafer", "Wafer:Site"),
  Wafer_slope = list("Wafer", current ~ voltage + v2 + (voltage | Wafer) + (voltage | Wafer:Site), "Wafer", "Wafer:Site"))

fit_one <- function(name, reml) {
  m <- models[[name]]
  lmer(m[[2]], sets[[m[[1]]]][[1]], REML = reml, control = tight)
}

expected <- NULL
put <- function(model, method, quantity, value)
  expected <<- rbind(expected, data.frame(model, method, quantity, value = digits(value)))
blups <- NULL
for (name in names(models)) for (reml in c(TRUE, FALSE)) {
  m <- models[[name]]; f <- fit_one(name, reml); method <- if (reml) "REML" else "ML"
  b <- fixef(f); se <- sqrt(diag(as.matrix(vcov(f))))
  for (k in seq_along(b)) {
    put(name, method, paste0("fixed:", names(b)[k]), b[k])
    put(name, method, paste0("se:", names(b)[k]), se[k])
  }
  for (level in 1:2) {
    factor <- m[[2 + level]]
    if (factor == "") next
    v <- VarCorr(f)[[factor]]; what <- c("group", "unit")[level]
    put(name, method, paste0(what, ":level"), v[1, 1])
    if (nrow(v) == 2) {
      put(name, method, paste0(what, ":cross"), v[1, 2])
      put(name, method, paste0(what, ":slope"), v[2, 2])
    }
    if (reml) {
      r <- ranef(f, condVar = TRUE)[[factor]]; pv <- attr(r, "postVar")
      d <- sets[[m[[1]]]][[1]]
      s <- sets[[m[[1]]]]
      key <- keys(s[[2 + level]](d))
      label <- if (grepl(":", factor)) paste(d[[sub(":.*", "", factor)]], d[[sub(".*:", "", factor)]], sep = ":") else as.character(d[[factor]])
      where <- key[match(rownames(r), label)]
      for (term in seq_len(ncol(r)))
        blups <- rbind(blups, data.frame(model = name, level = what, key = where,
                                         term = c("level", "slope")[term], blup = digits(r[, term]),
                                         cond_sd = digits(sqrt(pv[term, term, ]))))
    }
  }
  put(name, method, "residual", sigma(f)^2)
  put(name, method, "loglik", as.numeric(logLik(f)))
}
write.csv(expected, file.path(folder, "expected.csv"), row.names = FALSE, quote = FALSE)
write.csv(blups, file.path(folder, "blups.csv"), row.names = FALSE, quote = FALSE)
