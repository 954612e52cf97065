"""Worms: temperature response, growth of the stock, run-in of a new bin."""
