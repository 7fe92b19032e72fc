# eRm on the first 200 of the simulated people who each miss other items at
# random (simulated_random.txt of compare.R). eRm computes each set of items by
# itself, a second of processor time for each person; 2,000 would take 40
# minutes. Writes simulated_random_erm.json.
# Run once, by hand, from this folder:  Rscript compare_long.R
suppressPackageStartupMessages({library(eRm); library(jsonlite)})
lines <- readLines("simulated_random.txt")[1:200]
X <- do.call(rbind, lapply(strsplit(lines, ""), function(x) suppressWarnings(as.integer(x))))
seconds <- system.time(fit <- RM(X))[["user.self"]]
write_json(list(people = nrow(X), difficulty = -unname(fit$betapar), se = unname(fit$se.beta),
                loglik = fit$loglik, seconds = seconds),
           "simulated_random_erm.json", digits = 12, auto_unbox = TRUE)
