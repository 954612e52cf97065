"""Money: program cost, unit costs, avoided levy and gate fee, present values."""
