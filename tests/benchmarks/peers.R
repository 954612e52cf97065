# What a user of R would run instead: Rscript peers.R rake | weibull, in a program's folder.
asked <- commandArgs(trailingOnly = TRUE)
if (asked[1] == "rake") {
  suppressMessages(library(survey))
  answers <- read.csv("round.csv"); register <- read.csv("register.csv")
  of <- function(name) {
    known <- aggregate(register["households_count"], register[name], sum)
    names(known) <- c(name, "Freq")
    known
  }
  draws <- file.size("multipliers.bin") / 8 / nrow(answers)
  drawn <- matrix(readBin("multipliers.bin", "double", nrow(answers) * draws), nrow(answers))
  design <- svrepdesign(repweights = drawn, weights = answers$weight, data = answers,
                        type = "bootstrap", combined.weights = FALSE, scale = 1 / draws,
                        rscales = rep(1, draws), mse = TRUE, degf = draws - 1)
  raked <- rake(design, list(~area_id, ~dwelling, ~people),
                list(of("area_id"), of("dwelling"), of("people")),
                control = list(maxit = 1000, epsilon = 1e-10))
  found <- svymean(~as.numeric(is_in_use == "true"), raked)
  cat(sprintf('{"share": %.12f, "standard_error": %.12f}', coef(found), SE(found)))
} else {
  suppressMessages(library(survival))
  rows <- read.csv("intervals.csv")
  lower <- ifelse(rows$lower == 0, NA, rows$lower)
  upper <- ifelse(is.finite(rows$upper), rows$upper, NA)
  kept <- !(is.na(lower) & is.na(upper))  # silent from the first day on: tells nothing
  found <- survreg(Surv(lower[kept], upper[kept], type = "interval2") ~ 1, dist = "weibull")
  cat(sprintf('{"scale": %.9f, "shape": %.9f}', exp(coef(found)), 1 / found$scale))
}
