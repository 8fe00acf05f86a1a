"""The screens of the logbook: what went wrong, what is due, waste, disinfectant."""
