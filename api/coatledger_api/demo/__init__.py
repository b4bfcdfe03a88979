"""The invented shop of the demonstration: six weeks of its days, made from a seed."""
