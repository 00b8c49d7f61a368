"""Today's figures: beside the list, in one sentence, or all of them with their working."""

from __future__ import annotations

from textual.content import Content

from runner.engine.view import FigureView, View
from runner.screen.panel import Panel, wrapped
from runner.screen.wording import DIM, NORMAL, OPEN, STRONG, Piece, Text, figures_text, sentence


def _row(figure: FigureView, value_width: int, width: int, style: str = NORMAL) -> list[Content]:
    text: Text = ((figure.title, style),)
    if figure.changed:
        text = (*text, (", ", NORMAL), ("changed", OPEN))
    lead: list[Piece] = [(figure.text.rjust(value_width), STRONG), (" " * value_width, NORMAL)]
    return [
        Content.assemble(lead[min(number, 1)], "  ", line)
        for number, line in enumerate(wrapped(text, width - value_width - 2))
    ]


class Figures(Panel):
    """The figures beside the list, values first."""

    def part(self, view: View) -> object:
        """The figures."""
        return view.figures

    def lines(self, width: int) -> list[Content]:
        """A title and a line for each figure, as far as there is room."""
        figures = self.view.figures
        if not figures:
            return []
        widest = max(len(figure.text) for figure in figures)
        lines = [Content("Today’s figures"), Content("")]
        for figure in figures:
            lines += _row(figure, widest, width)
        room = self.content_size.height
        if room and len(lines) > room:
            lines[room - 1 :] = [Content.styled("more with f", DIM)]
        return lines


class Outlook(Panel):
    """The next list, and where nothing stands ``beside`` the list, the figures in a sentence.

    It is covered while a view needs the room.
    """

    hides_empty = True
    beside = False

    def part(self, view: View) -> object:
        """The next list and the figures."""
        return view.next_list, view.figures, view.finished

    def lines(self, width: int) -> list[Content]:
        """Two lines where it can be done; changed figures come first."""
        view = self.view
        next_list: Text = ()
        if view.next_list and not view.finished:
            next_list = ((f"Next list: {sentence(view.next_list)} ", NORMAL),)
        if self.beside or not view.figures:
            return wrapped(next_list, width)
        ordered = sorted(view.figures, key=lambda figure: not figure.changed)
        rows: list[Content] = []
        for count in range(len(ordered), 0, -1):
            text = figures_text(ordered[:count])
            if count < len(ordered):
                text = (*text, (" More with f.", DIM))
            rows = wrapped((*next_list, ("Today: ", NORMAL), *text), width)
            if len(rows) <= 2:
                break
        return rows


class FiguresView(Panel):
    """All figures in place of the list; one is chosen, and its working can be asked for."""

    keeps_height = True
    chosen = 0
    working: tuple[str, ...] = ()
    chart: tuple[str, ...] = ()

    def draw(self, chart: tuple[str, ...]) -> None:
        """Show a chart in place of the figures; no lines to show the figures again."""
        self.chart = chart
        self.redraw()

    def part(self, view: View) -> object:
        """The figures."""
        return view.figures

    def look(self, rows: int) -> None:
        """Choose the figure so many rows further on."""
        last = max(0, len(self.view.figures) - 1)
        self.chosen = max(0, min(last, self.chosen + rows))
        self.redraw()

    @property
    def name(self) -> str:
        """The name of the chosen figure, or empty."""
        figures = self.view.figures
        return figures[min(self.chosen, len(figures) - 1)].name if figures else ""

    def explain(self, text: str) -> None:
        """Add a line of working or another note on figures."""
        self.working = (*self.working, text)[-6:]
        self.redraw()

    def lines(self, width: int) -> list[Content]:
        """Figures with the chosen one underlined, then the newest working; or a chart."""
        if self.chart:
            help_line = Content.styled(
                "h shows the next chart, f or Esc goes back to the list.", DIM
            )
            room = max(1, self.content_size.height - 1)
            return [*(Content(line) for line in self.chart[:room]), help_line]
        figures = self.view.figures
        height = max(3, self.content_size.height)
        if not figures:
            return [Content("No figures are known yet.")]
        notes = [row for note in self.working for row in wrapped(((note, NORMAL),), width)]
        notes = notes[-(height // 2) :]
        widest = max(len(figure.text) for figure in figures)
        rows: list[Content] = []
        first = 0
        for number, figure in enumerate(figures):
            chosen = number == min(self.chosen, len(figures) - 1)
            if chosen:
                first = len(rows)
            rows += _row(figure, widest, width, OPEN if chosen else NORMAL)
        room = height - 2 - (len(notes) + 1 if notes else 0)
        top = max(0, min(first - room // 2, len(rows) - room))
        help_line = Content.styled(
            "Arrows choose, w tells why, f or Esc goes back to the list.", DIM
        )
        return [help_line, *rows[top : top + room], *([Content("")] if notes else []), *notes]
