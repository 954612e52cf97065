"""Survey statistics: weights, replicate weights, retention, feed, prior routes."""
