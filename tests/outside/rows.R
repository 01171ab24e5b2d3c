# Writes the rows of five data sets of R's survival that we check against and do not copy, as the
# files that tests/reference/statistics.md names: Rscript rows.R FOLDER
suppressMessages(library(survival))
folder <- commandArgs(trailingOnly = TRUE)[1]
write_rows <- function(name, rows) write.csv(rows, file.path(folder, name), row.names = FALSE, quote = FALSE)

write_rows("km_lung.csv", with(lung, data.frame(id = seq_along(time), time, event = status - 1, group = c("male", "female")[sex], stratum = ph.ecog)))
write_rows("km_ovarian.csv", with(ovarian, data.frame(
  id = seq_along(futime), time = futime, event = fustat, group = paste0("rx", rx), stratum = paste0("resid", resid.ds)
)))
write_rows("logrank_veteran.csv", with(veteran, data.frame(id = seq_along(time), time, event = status, group = celltype, stratum = trt)))
write_rows("lefttrunc_heart.csv", with(heart, data.frame(id, entry = start, time = stop, event, group = paste0("transplant", transplant))))
# Progression before death is the first fate, death without it the second.
write_rows("cr_mgus2.csv", with(mgus2, data.frame(
  id, time = ifelse(pstat == 1, ptime, futime), status = ifelse(pstat == 1, 1, 2 * death), group = sex
)))
