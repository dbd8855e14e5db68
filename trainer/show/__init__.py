"""Words, pictures and views of numbers, without a screen: what every face shows."""
