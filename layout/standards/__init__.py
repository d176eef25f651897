"""Published figures, each with its source: joint rules, products, sealants, rules of measurement."""
