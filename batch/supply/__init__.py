"""The ways to supply a farm: designs, sized, wired and judged."""
