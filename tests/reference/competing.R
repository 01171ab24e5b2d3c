# Writes competing_groups.expected.json and competing_late.expected.json, beside the rows of the
# same names (drawn by chance, CC0): Rscript competing.R
#
# 400 cases in three groups and two strata with three fates and many ties: Gray's test and the
# log-rank test. 300 cases entering at nine ages with two fates: incidences with both standard errors.
suppressMessages({
  library(survival)
  library(cmprsk)
  library(etm)
})

numbers <- function(x) paste0("[", paste(sprintf("%.15g", x), collapse = ", "), "]")
versions <- sprintf("%s; survival %s; cmprsk %s; etm %s", R.version.string, packageVersion("survival"), packageVersion("cmprsk"), packageVersion("etm"))
write_json <- function(file, source, members) {
  lines <- c(sprintf('  "SOURCE": "%s; CC0; %s"', source, versions), '  "tolerance": 1e-10', sprintf('  "%s": %s', names(members), unlist(members)))
  writeLines(c("{", paste(lines, collapse = ",\n"), "}"), file)
}

groups <- read.csv("competing_groups.csv")
gray <- function(...) {
  tests <- cuminc(groups$time, groups$status, groups$group, ...)$Tests
  sprintf('{"statistic": %s, "p": %s, "df": %s}', numbers(tests[, "stat"]), numbers(tests[, "pv"]), numbers(tests[, "df"]))
}
log_rank <- function(rho, strata) {
  formula <- if (strata) Surv(time, status == 1) ~ group + strata(stratum) else Surv(time, status == 1) ~ group
  sprintf("%.15g", survdiff(formula, groups, rho = rho)$chisq)
}
write_json("competing_groups.expected.json", "drawn by chance", list(
  gray = gray(),
  gray_stratified = gray(groups$stratum),
  log_rank_of_fate_1 = sprintf('{"0": %s, "1": %s, "-0.5": %s}', log_rank(0, FALSE), log_rank(1, FALSE), log_rank(-0.5, FALSE)),
  log_rank_of_fate_1_stratified = sprintf('{"0": %s, "1": %s, "-0.5": %s}', log_rank(0, TRUE), log_rank(1, TRUE), log_rank(-0.5, TRUE))
))

late <- read.csv("competing_late.csv")
curves <- survfit(Surv(entry, time, factor(status, 0:2)) ~ 1, late, id = id)
moves <- data.frame(id = late$id, from = 0, to = ifelse(late$status == 0, "cens", late$status), entry = late$entry, exit = late$time)
possible <- matrix(FALSE, 3, 3)
possible[1, 2:3] <- TRUE
states <- summary(etm(moves, c("0", "1", "2"), possible, "cens", s = 0))
at <- match(states[["0 1"]]$time, curves$time)
write_json("competing_late.expected.json", "drawn by chance", list(
  time = numbers(curves$time[at]),
  n_risk = numbers(curves$n.risk[at, 1]),
  cif_1 = numbers(curves$pstate[at, 2]),
  cif_2 = numbers(curves$pstate[at, 3]),
  se_ij_1 = numbers(curves$std.err[at, 2]),
  se_ij_2 = numbers(curves$std.err[at, 3]),
  etm_cif_1 = numbers(states[["0 1"]]$P),
  etm_cif_2 = numbers(states[["0 2"]]$P),
  etm_se_greenwood_1 = numbers(sqrt(states[["0 1"]]$var)),
  etm_se_greenwood_2 = numbers(sqrt(states[["0 2"]]$var))
))
