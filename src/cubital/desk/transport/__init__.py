"""The screens of transport: boxes packed, sent, opened, and the logs of their journeys."""
