# Fits the files of a folder with R's survival package. Usage: Rscript survival.R FOLDER
# Writes FOLDER/results/r.jsonl: values and the processor time of one fit, data already in memory.
suppressPackageStartupMessages({ library(survival); library(jsonlite) })
options(digits = 17)
folder <- commandArgs(trailingOnly = TRUE)[1]
out <- file(file.path(folder, "results", "r.jsonl"), "w")
put <- function(...) writeLines(toJSON(list(...), auto_unbox = TRUE, digits = NA, na = "null", null = "null"), out)

seconds_of <- function(run, least = 0.3) {
  once <- max(system.time(run())["user.self"], 1e-4)
  times <- max(1, min(200, round(least / once)))
  best <- Inf
  for (batch in 1:3) best <- min(best, system.time(for (i in seq_len(times)) run())["user.self"] / times)
  unname(best)
}

surv <- function(d) {
  exact <- all(is.na(d$upper) | d$upper == d$lower)
  if (exact) return(Surv(d$lower, !is.na(d$upper)))
  Surv(ifelse(d$lower > 0, d$lower, NA), d$upper, type = "interval2")
}

families <- c("weibull", "exponential", "lognormal", "loglogistic")
for (path in sort(list.files(folder, pattern = "[.]csv$", full.names = TRUE))) {
  name <- sub("[.]csv$", "", basename(path))
  d <- read.csv(path)
  if (name == "groups") {
    parts <- split(d, d$group)
    everything <- function() vapply(parts, function(p) survreg(Surv(p$lower, !is.na(p$upper)) ~ 1, dist = "weibull")$loglik[1], 0)
    total <- sum(everything())
    put(case = name, method = "weibull", log_likelihood = total, seconds = unname(system.time(everything())["user.self"]))
    next
  }
  late <- any(d$entry > 0)
  exact <- all(is.na(d$upper) | d$upper == d$lower)
  if (!late) {
    y <- surv(d)
    for (family in families) {
      one <- function() survreg(y ~ 1, dist = family, weights = d$count)
      warned <- NULL
      m <- tryCatch(withCallingHandlers(one(), warning = function(w) { warned <<- conditionMessage(w); invokeRestart("muffleWarning") }),
                    error = function(e) { put(case = name, method = family, error = conditionMessage(e)); NULL })
      if (is.null(m)) next
      if (!is.finite(m$coefficients[1])) { put(case = name, method = family, error = "no finite estimate"); next }
      put(case = name, method = family, log_likelihood = m$loglik[1], location = unname(m$coefficients[1]), spread = m$scale,
          warning = warned, seconds = seconds_of(function() suppressWarnings(one())))
    }
  }
  if (exact) {
    y <- if (late) Surv(d$entry, d$lower, !is.na(d$upper)) else Surv(d$lower, !is.na(d$upper))
    # Close usages are not merged into ties, as they are not here.
    one <- function() survfit(y ~ 1, weights = d$count, conf.type = "log-log", timefix = FALSE)
    k <- one()
    put(case = name, method = "kaplan-meier", survival = tail(k$surv, 1), seconds = seconds_of(one))
  } else if (!late && nrow(d) <= 2000) {
    y <- surv(d)
    one <- function() survfit(y ~ 1, weights = d$count)
    k <- tryCatch(one(), error = function(e) NULL)
    if (!is.null(k)) put(case = name, method = "turnbull", survival = tail(k$surv, 1), seconds = seconds_of(one))
  }
}
close(out)
