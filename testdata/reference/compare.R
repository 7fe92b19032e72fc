# Records what eRm, psych and psychotools say about their own data sets and
# about simulated answers, for the Go tests of grading/psychometrics.
# Writes the answers (one line per person, one character per item, '.' for
# missing) and results.json beside this script.
# Run once, by hand, from this folder:  Rscript compare.R
suppressPackageStartupMessages({
  library(eRm); library(psych); library(psychTools); library(psychotools); library(jsonlite)
})

save_answers <- function(X, name) {
  X <- as.matrix(X)
  m <- matrix(as.character(X), nrow(X)); m[is.na(m)] <- "."
  writeLines(apply(m, 1, paste, collapse = ""), name)
}
plain <- function(x) unname(as.vector(x))

rasch <- function(X) {
  s <- system.time(fit <- RM(X))[["elapsed"]]
  list(difficulty = -plain(fit$betapar), se = plain(fit$se.beta), loglik = fit$loglik, seconds = s)
}
classical <- function(X) {
  X <- as.matrix(X)
  colnames(X) <- paste0("i", seq_len(ncol(X)))
  a <- suppressWarnings(psych::alpha(X, warnings = FALSE))
  ci <- psych::alpha.ci(a$total$raw_alpha, n.obs = nrow(X), n.var = ncol(X))
  list(alpha = a$total$raw_alpha, low = ci$lower.ci, high = ci$upper.ci,
       p = plain(a$item.stats$mean), sd = plain(a$item.stats$sd),
       item_total = plain(a$item.stats$raw.r), item_rest = plain(a$item.stats$r.drop),
       item_rest_share = sapply(seq_len(ncol(X)), function(i)
         cor(X[, i], rowMeans(X[, -i, drop = FALSE], na.rm = TRUE), use = "complete.obs")),
       alpha_without = plain(a$alpha.drop$raw_alpha))
}
fit_statistics <- function(X) {
  pp <- person.parameter(RM(X))
  f <- itemfit(pp); g <- personfit(pp)
  tab <- pp$thetapar[[1]]
  list(outfit = plain(f$i.outfitMSQ), infit = plain(f$i.infitMSQ),
       outfit_z = plain(f$i.outfitZ), infit_z = plain(f$i.infitZ),
       person_outfit = plain(g$p.outfitMSQ), person_infit = plain(g$p.infitMSQ),
       theta = plain(tab), theta_se = plain(pp$se.theta[[1]]))
}
andersen <- function(X, split) {
  t <- suppressWarnings(LRtest(RM(X), splitcr = split))
  list(lr = t$LR, df = t$df, p = t$pvalue, items = length(t$betalist[[1]]))
}
lltm <- function(X, W, ...) {
  fit <- if (missing(W)) LLTM(X, ...) else LLTM(X, W = W)
  rm <- RM(X)
  W <- fit$W
  list(W = unname(as.matrix(W)), eta = plain(fit$etapar), se = plain(fit$se.eta),
       loglik = fit$loglik, rasch_loglik = rm$loglik)
}

out <- list(versions = list(
  R = R.version.string, eRm = as.character(packageVersion("eRm")),
  psych = as.character(packageVersion("psych")),
  psychTools = as.character(packageVersion("psychTools")),
  psychotools = as.character(packageVersion("psychotools"))))

# eRm's own data sets -------------------------------------------------------
X <- as.matrix(raschdat1); save_answers(X, "raschdat1.txt")
out$raschdat1 <- list(rasch = rasch(X), classical = classical(X),
                      fit = fit_statistics(X), andersen = andersen(X, "median"))

X <- as.matrix(lltmdat1); save_answers(X, "lltmdat1.txt")
out$lltmdat1 <- list(rasch = rasch(X), lltm = lltm(X, mpoints = 2))

X <- as.matrix(lltmdat2); save_answers(X, "lltmdat2.txt")
out$lltmdat2 <- list(rasch = rasch(X), lltm = lltm(X, W = matrix(c(1,2,1,3,2,2,2,1,1,1), ncol = 2)))

# psychTools: 16 ability items, 1,525 people, some answers missing -----------
X <- as.matrix(ability); X <- X[rowSums(!is.na(X)) >= 2, ]
save_answers(X, "ability.txt")
half <- rep_len(c(1, 2), nrow(X))
out$ability <- list(rasch = rasch(X), classical = classical(X), andersen_alternate = andersen(X, half))

# psychotools: verbal aggression, 24 items made by a 2 x 4 x 3 design --------
data("VerbalAggression", package = "psychotools")
X <- VerbalAggression$resp2; nm <- colnames(X)
save_answers(X, "verbalaggression.txt")
# features in which the behaviour is done rather than wanted, the situation is
# one where the other is not to blame, and the kind of behaviour
W <- cbind(do = grepl("Do", nm), self = grepl("^S[34]", nm),
           scold = grepl("Scold", nm), shout = grepl("Shout", nm)) * 1
out$verbalaggression <- list(rasch = rasch(X), classical = classical(X), fit = fit_statistics(X),
  andersen = andersen(X, "median"), lltm = lltm(X, W = W),
  andersen_gender = andersen(X, as.integer(VerbalAggression$gender)),
  gender = as.integer(VerbalAggression$gender), items = nm)

# Simulated: 2,000 people x 40 items, 30 % missing ---------------------------
# First by design: 20 forms, each without 12 of the items; then each person
# misses other items at random. eRm computes each set of items by itself, so that
# it would take 40 minutes for the second: see compare_long.R.
set.seed(20004030)
theta <- rnorm(2000, 0.3, 1.1); b <- rnorm(40, 0, 1.2)
full <- matrix(as.integer(runif(2000 * 40) < plogis(outer(theta, b, "-"))), 2000)
tools <- function(X) {
  s <- system.time(pt <- raschmodel(X, reltol = 1e-14))[["elapsed"]]
  d <- itempar(pt)
  list(difficulty = plain(d), se = plain(sqrt(diag(vcov(d)))), loglik = plain(logLik(pt)), seconds = s)
}

X <- full
forms <- replicate(20, sample(40, 12))
for (v in seq_len(2000)) X[v, forms[, (v - 1) %% 20 + 1]] <- NA
save_answers(X, "simulated_forms.txt")
out$simulated_forms <- list(classical = classical(X), psychotools = tools(X), true_difficulty = b - mean(b))
write_json(out, "results.json", digits = 12, auto_unbox = TRUE, pretty = FALSE)

X <- full
X[matrix(runif(2000 * 40) < 0.3, 2000)] <- NA
save_answers(X, "simulated_random.txt")
out$simulated_random <- list(classical = classical(X), psychotools = tools(X), true_difficulty = b - mean(b))
write_json(out, "results.json", digits = 12, auto_unbox = TRUE, pretty = FALSE)

X <- full
for (v in seq_len(2000)) X[v, forms[, (v - 1) %% 20 + 1]] <- NA
out$simulated_forms$rasch <- rasch(X)
write_json(out, "results.json", digits = 12, auto_unbox = TRUE, pretty = FALSE)
