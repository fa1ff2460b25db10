"""How each layer of a GeoPackage is drawn: the row of `layer_styles` that programs look for.

Two languages say the same: SLD 1.1 (OGC 05-078r4 and 05-077r4) and the QML of the table's own origin.
Colours are those of the colour code where a layer has a column `colour`, ink elsewhere, and every layer can
be told apart in black and white by the form of its signs and strokes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final
from xml.sax.saxutils import quoteattr

from plumbmark.exchange.palette import INK, RGB, hexed
from plumbmark.model.layer import Layer, Shape

_SLD: Final = (
    '<StyledLayerDescriptor xmlns="http://www.opengis.net/sld" xmlns:se="http://www.opengis.net/se" '
    'xmlns:ogc="http://www.opengis.net/ogc" version="1.1.0">'
)

_PX_PER_MM: Final = 4.0  # SLD counts pixels of 0.28 mm; rounded up for eyes outdoors


@dataclass(frozen=True, slots=True)
class Look:
    """The form of a layer's signs. `dash`: strokes and gaps in mm. `label`: a column written beside."""

    mark: str = "circle"
    size_mm: float = 2.4
    width_mm: float = 0.4
    dash: tuple[float, ...] = ()
    opacity: float = 1.0
    label: str = ""


#: A layer that is not listed is drawn by the first look.
LOOKS: Final[dict[str, Look]] = {
    "": Look(),
    "solved_places": Look("circle", 1.8, label="id"),
    "solved_lines_below_ground": Look(width_mm=0.9),
    "bands": Look(width_mm=0.2, opacity=0.2),
    "second_lines_below_ground": Look(width_mm=0.7, dash=(0.8, 1.2)),
    "second_line_bands": Look(width_mm=0.2, dash=(0.8, 1.2), opacity=0.1),
    "current_events": Look("diamond", 3.0, label="kind"),
    "marks": Look("cross2", 3.0, label="text"),
    "painted_marks": Look("cross2", 3.0, width_mm=0.8),
    "zones": Look(width_mm=0.5, dash=(3.0, 1.0), opacity=0.0),
    "dig_stretches": Look(width_mm=0.6, opacity=0.15, label="demand"),
    "test_holes_to_dig": Look("square", 3.6, label="number"),
    "readings": Look("cross2", 2.4),
    "walks_across": Look("triangle", 2.4),
    "readings_from_the_side": Look("pentagon", 2.4),
    "test_holes": Look("square", 3.2, label="test_hole"),
    "records": Look(width_mm=0.5, dash=(4.0, 1.5)),
    "digs": Look(width_mm=0.6, opacity=0.0, label="dig"),
    "baselines": Look(width_mm=0.3, dash=(4.0, 1.0, 0.7, 1.0), label="baseline"),
    "corners": Look("triangle", 2.8, label="corner"),
}


@dataclass(frozen=True, slots=True)
class Group:
    """Features drawn alike: those whose cell has a value, the last group all others.

    `brush` is the pattern of an area, "" for the layer's own; `dash` breaks its edge where no patterns are
    known.
    """

    value: str
    colour: str
    brush: str = ""
    dash: tuple[float, ...] = ()


#: What a stretch of a dig demands is hatched as on the report's plan.
_DEMANDS: Final = (
    Group("hand dig", hexed(INK), "b_diagonal", (3.0, 1.0)),
    Group("test hole first", hexed(INK), "diagonal_x"),
    Group("not known", hexed(INK), "dense7", (0.8, 0.8)),
    Group("", hexed(INK), "no"),
)


@dataclass(frozen=True, slots=True)
class Style:
    """A layer's look in both languages."""

    qml: str
    sld: str


def styles(layer: Layer) -> Style:
    """How a layer is drawn.

    Parameters
    ----------
    layer : Layer
        With a shape.

    Returns
    -------
    Style
    """
    look = LOOKS.get(layer.name, LOOKS[""])
    by, groups = _groups(layer)
    return Style(_qml(layer, look, by, groups), _sld(layer, look, by, groups))


def _groups(layer: Layer) -> tuple[str, tuple[Group, ...]]:
    """The column whose value says how a feature is drawn, and the groups it makes."""
    if layer.column("demand") is not None:
        return "demand", _DEMANDS
    colours = RGB if layer.column("colour") is not None else {}
    groups = (Group(name, hexed(colour)) for name, colour in colours.items())
    return "colour", (*groups, Group("", hexed(INK)))


def _qml(layer: Layer, look: Look, by: str, groups: tuple[Group, ...]) -> str:
    symbols = "".join(_qml_symbol(layer, look, i, group) for i, group in enumerate(groups))
    if len(groups) > 1:
        rows = "".join(
            f'<category render="true" symbol="{i}" value={quoteattr(group.value)} '
            f"label={quoteattr(group.value or 'other')}/>"
            for i, group in enumerate(groups)
        )
        render = (
            f'<renderer-v2 type="categorizedSymbol" attr="{by}" forceraster="0" symbollevels="0" '
            f'enableorderby="0"><categories>{rows}</categories><symbols>{symbols}</symbols></renderer-v2>'
        )
    else:
        render = (
            '<renderer-v2 type="singleSymbol" forceraster="0" symbollevels="0" enableorderby="0">'
            f"<symbols>{symbols}</symbols></renderer-v2>"
        )
    label = ""
    if look.label:
        label = (
            f'<labeling type="simple"><settings><text-style fieldName="{look.label}" fontSize="8" '
            'textColor="17,17,17,255"><text-buffer bufferDraw="1" bufferSize="0.8" '
            'bufferColor="255,255,255,255"/></text-style><placement placement="0" dist="1"/></settings>'
            "</labeling>"
        )
    labels = int(bool(look.label))
    return (
        f'<!DOCTYPE qgis><qgis version="3.22" styleCategories="Symbology|Labeling" labelsEnabled="{labels}">'
        f"{render}{label}</qgis>"
    )


def _qml_symbol(layer: Layer, look: Look, number: int, group: Group) -> str:
    shown = ",".join(str(int(group.colour[i : i + 2], 16)) for i in (1, 3, 5))
    ink = ",".join(map(str, INK))
    dash = {
        "use_custom_dash": str(int(bool(look.dash))),
        "customdash": ";".join(f"{x:g}" for x in look.dash or (5, 2)),
        "customdash_unit": "MM",
    }
    if layer.shape is Shape.POINT:
        kind, drawn = "marker", "SimpleMarker"
        rows = {"name": look.mark, "size": f"{look.size_mm:g}", "size_unit": "MM", "color": f"{shown},255"}
        rows |= {"outline_color": f"{shown if look.mark == 'cross2' else ink},255"}
        rows |= {"outline_width": f"{max(look.width_mm, 0.3):g}", "outline_width_unit": "MM"}
    elif layer.shape is Shape.LINE:
        kind, drawn = "line", "SimpleLine"
        rows = {
            "line_color": f"{shown},255",
            "line_width": f"{look.width_mm:g}",
            "line_width_unit": "MM",
            **dash,
        }
    else:
        kind, drawn = "fill", "SimpleFill"
        brush = group.brush or ("solid" if look.opacity else "no")
        opacity = 1.0 if group.brush else look.opacity
        rows = {"color": f"{shown},{round(255 * opacity)}", "style": brush}
        rows |= {
            "outline_color": f"{ink},255",
            "outline_width": f"{look.width_mm:g}",
            "outline_width_unit": "MM",
        }
        rows |= {"outline_style": "dash" if look.dash else "solid"}
    options = "".join(f'<Option type="QString" name="{k}" value="{v}"/>' for k, v in rows.items())
    return (
        f'<symbol type="{kind}" name="{number}" alpha="1" clip_to_extent="1" force_rhr="0">'
        f'<layer class="{drawn}" enabled="1" locked="0" pass="0"><Option type="Map">{options}</Option>'
        f"{''.join(f'<prop k={quoteattr(k)} v={quoteattr(v)}/>' for k, v in rows.items())}</layer></symbol>"
    )


def _sld(layer: Layer, look: Look, by: str, groups: tuple[Group, ...]) -> str:
    rules = "".join(_sld_rule(layer, look, group, by if len(groups) > 1 else "") for group in groups)
    name = quoteattr(layer.name)[1:-1]
    return (
        f"{_SLD}<NamedLayer><se:Name>{name}</se:Name><UserStyle><se:Name>{name}</se:Name>"
        f"<se:FeatureTypeStyle>{rules}</se:FeatureTypeStyle></UserStyle></NamedLayer></StyledLayerDescriptor>"
    )


def _sld_rule(layer: Layer, look: Look, group: Group, by: str) -> str:
    which = ""
    if by:
        which = (
            f"<ogc:Filter><ogc:PropertyIsEqualTo><ogc:PropertyName>{by}</ogc:PropertyName>"
            f"<ogc:Literal>{group.value}</ogc:Literal></ogc:PropertyIsEqualTo></ogc:Filter>"
            if group.value
            else "<se:ElseFilter/>"
        )
    colour, broken = group.colour, group.dash or look.dash
    strokes = " ".join(f"{x * _PX_PER_MM:g}" for x in broken)
    dash = f'<se:SvgParameter name="stroke-dasharray">{strokes}</se:SvgParameter>'
    ink = hexed(INK)
    stroke = colour if layer.shape is Shape.LINE or look.mark == "cross2" else ink
    line = (
        f'<se:Stroke><se:SvgParameter name="stroke">{stroke}</se:SvgParameter>'
        f'<se:SvgParameter name="stroke-width">{look.width_mm * _PX_PER_MM:g}</se:SvgParameter>'
        f"{dash if broken else ''}</se:Stroke>"
    )
    fill = (
        f'<se:Fill><se:SvgParameter name="fill">{colour}</se:SvgParameter>'
        f'<se:SvgParameter name="fill-opacity">{look.opacity:g}</se:SvgParameter></se:Fill>'
    )
    if layer.shape is Shape.POINT:
        known = {"cross2": "x", "diamond": "square", "pentagon": "star"}
        drawn = (
            "<se:PointSymbolizer><se:Graphic><se:Mark><se:WellKnownName>"
            f"{known.get(look.mark, look.mark)}</se:WellKnownName>{fill}{line}</se:Mark>"
            f"<se:Size>{look.size_mm * _PX_PER_MM:g}</se:Size></se:Graphic></se:PointSymbolizer>"
        )
    elif layer.shape is Shape.LINE:
        drawn = f"<se:LineSymbolizer>{line}</se:LineSymbolizer>"
    else:
        drawn = f"<se:PolygonSymbolizer>{fill if look.opacity else ''}{line}</se:PolygonSymbolizer>"
    return f"<se:Rule><se:Name>{group.value or 'other'}</se:Name>{which}{drawn}</se:Rule>"
