"""What designs cost, who pays, and what they are worth."""
