"""The screens of the quality indicators: the month, its report and charts, and their lake."""
