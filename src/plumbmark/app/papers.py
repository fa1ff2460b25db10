"""Report and layers of a job as bytes, for whoever asks the server for them; made in a worker."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from plumbmark.app import export, report
from plumbmark.base.errors import PlumbmarkError
from plumbmark.model.job import Job

#: What a browser is told each kind of file is.
MEDIA = {
    ".pdf": "application/pdf",
    ".html": "text/html",
    ".gpkg": "application/geopackage+sqlite3",
    ".geojson": "application/geo+json",
    ".dxf": "image/vnd.dxf",
    ".kml": "application/vnd.google-earth.kml+xml",
    ".csv": "text/csv",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ".parquet": "application/vnd.apache.parquet",
}

#: Endings of files of layers.
LAYERS = tuple(export.ENDINGS)


class PaperError(PlumbmarkError):
    """A report or file of layers that cannot be made of this job, and why."""


def report_bytes(
    job: Job, digest: str, photographs: Mapping[str, bytes], ending: str, wanted: report.Wanted
) -> bytes:
    """The report of a job.

    Parameters
    ----------
    job : Job
    digest : str
        Of its files.
    photographs : mapping of str to bytes
        Files of its folder `photos`, by name.
    ending : str
        ``.pdf`` or ``.html``.
    wanted : Wanted
        Audience, paper, owner, lines whose depth may be told.

    Returns
    -------
    bytes

    Raises
    ------
    PaperError
        An owner or a line is named that the job does not have, or a dig cannot be.
    """
    from plumbmark.clearance.rules import zone_rule
    from plumbmark.exchange.photographs import photographs_in
    from plumbmark.handover.report_html import report_html
    from plumbmark.handover.report_pdf import report_pdf

    wrong = report.wrong_names(wanted, job)
    if wrong:
        raise PaperError("; ".join(f"{where.removeprefix('--')} {what}" for where, what in wrong))
    pictures, _ = photographs_in(photographs)
    made, _ = report.report_of(job, zone_rule(wanted.rules), wanted, digest, pictures)
    return report_pdf(made, wanted.paper) if ending == ".pdf" else report_html(made).encode()


def layers_bytes(job: Job, digest: str, ending: str, layer: str | None, crs: str | None) -> bytes:
    """The layers of a job as a file that other programs open.

    Parameters
    ----------
    job : Job
    digest : str
        Of its files.
    ending : str
        One of `export.ENDINGS`.
    layer : str, optional
        The one layer that is wanted; needed by CSV only, which takes the solved places where none is named.
    crs : str, optional
        Coordinate system, ``EPSG:…``; the job's own where none is named.

    Returns
    -------
    bytes

    Raises
    ------
    PaperError
        The job cannot be written so.
    """
    from plumbmark.clearance.rules import zone_rule

    wanted = export.Wanted(Path(f"layers{ending}"), () if layer is None else (layer,), crs)
    wrong = [*export.kind_problems(ending, job), *export.system_problems(wanted)]
    if layer is not None and layer not in export.layer_names():
        wrong.append(f"'{layer}' is no layer; there are {', '.join(export.layer_names())}")
    if wrong:
        raise PaperError("; ".join(wrong))
    layers, _ = export.layers_for(job, zone_rule(wanted.rules), digest)
    return export.exported(layers, wanted)[0]
