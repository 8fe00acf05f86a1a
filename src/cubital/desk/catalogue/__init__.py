"""The catalogue on screen: tests, what they need, and where that is written."""
