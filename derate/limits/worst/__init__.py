"""The worst that any history of requests can do: a bound, by optimisation, and what comes near."""
