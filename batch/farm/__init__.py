"""What the water asks of a farm, and the plant that it has."""
