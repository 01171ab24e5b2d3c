# The same figures in R's survival, for benches/survival.rs: arguments and output as in survival_peer.py.
if (!requireNamespace("survival", quietly = TRUE)) {
  cat("SKIPPED R: the package survival is not installed\n")
  quit(status = 0)
}
library(survival)
given <- commandArgs(trailingOnly = TRUE)
folder <- given[1]
at <- as.numeric(given[2])
report <- function(name, tolerance, work) {
  seconds <- system.time(figure <- work())[["elapsed"]]
  cat(sprintf("%s\tR survival\t%.6f\t%.17g\t%g\n", name, seconds, figure, tolerance))
}
large <- read.csv(file.path(folder, "large.csv"))
report("survival", 1e-9, function() summary(survfit(Surv(time, status > 0) ~ 1, large, conf.type = "log-log"), times = at)$surv)
fate <- factor(large$status, 0:2)
report("incidence", 1e-9, function() summary(survfit(Surv(large$time, fate) ~ 1), times = at)$pstate[1, 2])
looks <- read.csv(file.path(folder, "looks_1000.csv"))
# Its EM stops early, so answers are near, not equal. 10,000 rows are left out: it would take hours.
report("looks 1000", 0.03, function() {
  fitted <- survfit(Surv(left, right, type = "interval2") ~ 1, looks)
  summary(fitted, times = at)$surv
})
