"""Never over the limit: a bound for every history, a search, and what tests of one's own say."""
