"""The Django shell: records, screens, JSON API, roles."""
