"""The photos of a run as a row of pictures, and the place where one is added.

Pure components. The fields are made in the browser (``assets/photo.js``): a chosen file must not be
lost when a part of the page is drawn anew.
"""

from collections.abc import Sequence

from dash import dcc, html

from logger.model.photos.row import PhotoRow, photo_title


def draw_photos(run_id: str, photos: Sequence[PhotoRow]) -> html.Section | None:
    """Draw the photos; nothing where there are none.

    Parameters
    ----------
    run_id : str
        The run.
    photos : sequence of PhotoRow
        Of the run, in the order they were added.
    """
    if not photos:
        return None
    return html.Section(
        [
            html.H2("Photos"),
            html.Ul([_photo(run_id, one) for one in photos], className="photos"),
        ]
    )


def _photo(run_id: str, photo: PhotoRow) -> html.Li:
    title, path = photo_title(photo), f"/runs/{run_id}/photo/{photo.sha256}"
    picture = html.Img(src=path, alt=title, width=photo.width, height=photo.height)
    shown = html.A(picture, href=path, target="_blank")
    remove = html.Button(
        html.Span("Remove"),
        type="button",
        className="show-at",
        **{"data-remove": path, "data-of": title, "aria-label": f"Remove {title}"},
    )
    return html.Li(html.Figure([shown, html.Figcaption(title), remove]))


def draw_add(pieces: Sequence[int]) -> html.Details:
    """Draw the place where a photo is added, folded.

    Parameters
    ----------
    pieces : sequence of int
        Numbers of the run's pieces.
    """
    return html.Details(
        [
            html.Summary("Add a photo"),
            dcc.Store(id="photo-pieces", data=list(pieces)),
            html.Div(id="photo-fields", className="photo-fields"),
            html.P(
                "JPEG, PNG or WebP. It is made smaller; position and other metadata are removed.",
                className="hint",
            ),
        ],
        className="more-of",
    )
