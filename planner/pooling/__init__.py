"""Many councils: what each hands over, and the state report that puts them together."""
