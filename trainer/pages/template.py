"""Our pages' templates: everything that is filled in is escaped, and a name that is not given is an error."""

from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

__all__ = ["template"]


@cache
def template(name: str) -> Template:
    """A template of this package, by its file's name."""
    environment = Environment(
        loader=PackageLoader("trainer.pages"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(name)
