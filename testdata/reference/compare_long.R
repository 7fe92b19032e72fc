# eRm (estimates only; standard errors would take twice as long again) on the simulated answers in which every person misses other items at
# random (simulated_random.txt of compare.R). eRm computes each set of items by
# itself, so this takes many minutes. Writes simulated_random_erm.json.
# Run once, by hand, from this folder:  Rscript compare_long.R
suppressPackageStartupMessages({library(eRm); library(jsonlite)})
X <- do.call(rbind, lapply(strsplit(readLines("simulated_random.txt"), ""), function(x) suppressWarnings(as.integer(x))))
seconds <- system.time(fit <- RM(X, se = FALSE))[["user.self"]]
write_json(list(difficulty = -unname(fit$betapar), loglik = fit$loglik, seconds = seconds),
           "simulated_random_erm.json", digits = 12, auto_unbox = TRUE)
