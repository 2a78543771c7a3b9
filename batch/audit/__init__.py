"""Results run again, compared, sampled and explained."""
