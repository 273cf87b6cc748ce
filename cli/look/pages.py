"""Templates with the filters they need; every value is escaped unless it is marked safe."""

from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from cli import summary, wording
from cli.charts import svg
from cli.charts.shares import share_key
from vision.times import clock


def environment(package: str) -> Environment:
    """Make the template environment of a package with a ``templates`` folder."""
    made = Environment(
        loader=PackageLoader(package),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters.update(
        clock=clock,
        on_clock=wording.on_clock,
        moment=wording.moment,
        visible_words=wording.visible_words,
        some_times=wording.some_times,
        tuned_words=wording.tuned_words,
        seconds=wording.seconds,
        percent=wording.percent,
        remark=wording.remark,
        check_sentence=wording.check_sentence,
        limit=wording.limit,
        measured=wording.measured,
        view_words=wording.view_words,
        decision_s=summary.decision_s,
    )
    made.globals.update(
        verdict_mark=lambda verdict: Markup(svg.legend_mark(verdict)),
        verdict_class=svg.VERDICT_CLASS,
        share_key=share_key,
        brand_mark=lambda: Markup(svg.brand_mark()),
    )
    return made


def style(package: str, *names: str) -> Markup:
    """Read style sheets of a package and join them for a ``style`` element."""
    texts = [files(package).joinpath(name).read_text(encoding="utf-8") for name in names]
    return Markup("\n".join(texts))
