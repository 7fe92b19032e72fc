# Records what R's own functions (stats, MASS) give for abilities, consistency
# of pass and fail, and contrasting groups, from the published formulas and by
# other numerical means than the Go code: maximization and integration by the
# general routines, moments matched by least squares. Reads results.json of
# compare.R. Writes base.json.
# Run once, by hand, from this folder:  Rscript base.R
suppressPackageStartupMessages({library(MASS); library(jsonlite)})
results <- read_json("results.json", simplifyVector = TRUE)
X <- do.call(rbind, lapply(strsplit(readLines("verbalaggression.txt"), ""), as.integer))
b <- results$verbalaggression$rasch$difficulty
k <- ncol(X)
out <- list(versions = list(R = R.version.string, MASS = as.character(packageVersion("MASS"))))

# Abilities on the verbal aggression items -----------------------------------
scores <- 0:k
P <- function(t) plogis(t - b)
wle <- sapply(scores, function(r) {
  f <- function(t) r * t - sum(log1p(exp(t - b))) + log(sum(P(t) * (1 - P(t)))) / 2
  optimize(f, c(-12, 12), maximum = TRUE, tol = 1e-10)$maximum
})
eap <- sapply(scores, function(r) {
  L <- Vectorize(function(t) exp(r * t - sum(log1p(exp(t - b))) + sum(log1p(exp(-b)))) * dnorm(t, 0.2, 1.3))
  i <- function(g) integrate(g, -12, 12, rel.tol = 1e-10, subdivisions = 1000)$value
  m <- i(function(t) t * L(t)) / i(L)
  c(m, sqrt(i(function(t) (t - m)^2 * L(t)) / i(L)))
})
out$ability <- list(difficulty = b, wle = wle, eap = eap[1, ], eap_sd = eap[2, ], prior = c(0.2, 1.3))

# Livingston-Lewis and Subkoviak on the same people --------------------------
x <- rowSums(X); n <- length(x)
alpha <- results$verbalaggression$classical$alpha
livingston_lewis <- function(x, min, max, rel, cut) {
  m <- mean(x); v <- mean((x - m)^2)
  len <- round(((m - min) * (max - m) - rel * v) / (v * (1 - rel)))
  y <- (x - min) / (max - min) * len
  raw <- sapply(1:4, function(j) mean(Reduce(`*`, lapply(0:(j - 1), function(i) y - i))) /
                      prod(len - 0:(j - 1)))
  beta_raw <- function(l, u, a, bb) {                  # raw moments of l + (u-l) Beta(a,b)
    z <- sapply(0:4, function(j) if (j == 0) 1 else prod((a + 0:(j - 1)) / (a + bb + 0:(j - 1))))
    sapply(1:4, function(j) sum(choose(j, 0:j) * l^(j - 0:j) * (u - l)^(0:j) * z[1:(j + 1)]))
  }
  start <- c(qlogis(0.02), qlogis(0.98), log(1.5), log(1.5))
  best <- NULL
  for (i in 1:40) {
    s <- start + if (i == 1) 0 else rnorm(4, 0, 1)
    f <- function(p) sum(((beta_raw(plogis(p[1]), plogis(p[2]), exp(p[3]), exp(p[4])) - raw) / raw)^2) * 1e8
    o <- optim(s, f, method = "Nelder-Mead", control = list(maxit = 20000, reltol = 1e-16))
    o <- optim(o$par, f, method = "BFGS", control = list(maxit = 5000, reltol = 1e-20))
    if (is.null(best) || o$value < best$value) best <- o
  }
  if (best$value > 1e-2) { # no such distribution within 0 and 1: two parameters
    f <- function(p) sum((beta_raw(0, 1, exp(p[1]), exp(p[2]))[1:2] / raw[1:2] - 1)^2) * 1e8
    o <- optim(c(0, 0), f, method = "BFGS", control = list(maxit = 5000, reltol = 1e-20))
    best <- list(par = c(-Inf, Inf, o$par), value = o$value)
  }
  p <- best$par; l <- plogis(p[1]); u <- plogis(p[2]); a <- exp(p[3]); bb <- exp(p[4])
  share <- (cut - min) / (max - min); need <- ceiling(len * share - 1e-9)
  pass <- function(t) pbinom(need - 1, len, t, lower.tail = FALSE)
  density <- function(t) dbeta((t - l) / (u - l), a, bb) / (u - l)
  E <- function(g, from, to) if (to <= from) 0 else integrate(function(t) g(t) * density(t), from, to, rel.tol = 1e-9, subdivisions = 2000)$value
  at <- min(max(share, l), u)
  list(length = len, lower = l, upper = u, alpha = a, beta = bb, misfit = best$value,
       consistency = E(function(t) pass(t)^2 + (1 - pass(t))^2, l, u),
       pass = E(pass, l, u),
       accuracy = E(pass, at, u) + E(function(t) 1 - pass(t), l, at),
       false_pass = E(pass, l, at), false_fail = E(function(t) 1 - pass(t), at, u))
}
set.seed(1)
out$livingston_lewis <- list(verbal_aggression =
  c(list(scores = x, min = 0, max = k, reliability = alpha, cut = 12), livingston_lewis(x, 0, k, alpha, 12)))
y <- 10 + 2 * rbinom(1500, 60, 0.25 + 0.5 * rbeta(1500, 2, 1.5)) # 10 to 130 in twos
out$livingston_lewis$simulated <-
  c(list(scores = y, min = 10, max = 130, reliability = 0.78, cut = 70), livingston_lewis(y, 10, 130, 0.78, 70))
p <- (alpha * x + (1 - alpha) * mean(x)) / k
pass <- pbinom(11, k, p, lower.tail = FALSE)
out$subkoviak <- list(right = x, items = k, reliability = alpha, cut = 12,
                      consistency = mean(pass^2 + (1 - pass)^2), pass = mean(pass),
                      accuracy = mean(ifelse(p * k >= 12, pass, 1 - pass)))

# Contrasting groups: MASS::dose.p on a logistic regression ------------------
competent <- c(14, 15, 17, 17, 18, 19, 19, 20, 21, 22, 22, 24, 25, 25, 27)
not_yet <- c(8, 9, 10, 11, 12, 12, 13, 13, 14, 15, 16, 16, 18, 19)
fit <- glm(rep(1:0, c(length(competent), length(not_yet))) ~ c(competent, not_yet), family = binomial,
           control = glm.control(epsilon = 1e-14, maxit = 100))
d <- dose.p(fit, p = c(0.5, 2/3))
out$contrasting <- list(competent = competent, not_yet = not_yet,
                        cut = as.vector(d), se = as.vector(attr(d, "SE")), cost = c(1, 2))
write_json(out, "base.json", digits = 12, auto_unbox = TRUE)
