# Times eRm's RM() on 10,000 people x 60 items and records its estimates.
# Writes the simulated answers (speed-answers.txt.gz: one line per person, one
# character per item) and the result (speed-erm.json) beside this script.
# Run once, by hand, from this folder:  Rscript time_erm.R
suppressPackageStartupMessages({library(eRm); library(jsonlite)})
set.seed(60601)
people <- 10000; items <- 60
theta <- rnorm(people, 0, 1.2)
b <- sort(runif(items, -2.5, 2.5))
X <- matrix(as.integer(runif(people * items) < plogis(outer(theta, b, "-"))), people, items)
con <- gzfile("speed-answers.txt.gz", "w", compression = 9)
writeLines(apply(X, 1, paste, collapse = ""), con)
close(con)
# Time of the processor, so that other work on the machine does not count.
seconds <- system.time(fit <- RM(X))[["user.self"]]
write_json(list(
  eRm = as.character(packageVersion("eRm")), R = R.version.string,
  people = people, items = items, seconds = seconds,
  difficulty = -unname(fit$betapar), se = unname(fit$se.beta), loglik = fit$loglik
), "speed-erm.json", digits = 12, auto_unbox = TRUE, pretty = TRUE)
cat("RM() took", seconds, "s\n")
