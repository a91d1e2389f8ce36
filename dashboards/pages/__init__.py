"""One dataclass a page, rendered with Jinja templates."""
