"""Where we are: the aircraft and its procedures, and the phases of the flight."""

from __future__ import annotations

from textual.content import Content

from runner.engine.view import View
from runner.screen.panel import Panel, wrapped
from runner.screen.wording import crew_text, phases_text


class Title(Panel):
    """The aircraft and the procedures, in one line."""

    def part(self, view: View) -> object:
        """The two names."""
        return view.aircraft, view.procedures

    def lines(self, width: int) -> list[Content]:  # noqa: ARG002
        """One line; a procedures' name that begins with the aircraft's stands alone."""
        aircraft, procedures = self.view.aircraft, self.view.procedures
        if procedures.startswith(aircraft):
            return [Content(procedures)]
        return [Content(", ".join(name for name in (aircraft, procedures) if name))]


class Phases(Panel):
    """The phases as running sentences, the one being flown in bold."""

    def part(self, view: View) -> object:
        """The phases."""
        return view.phases

    def lines(self, width: int) -> list[Content]:
        """As much of the flight as goes into one line."""
        return wrapped(phases_text(self.view.phases, width), width)[:1]


class Aboard(Panel):
    """Who flies with you and as what, who is to answer, and the link; one line, in a crew."""

    hides_empty = True

    def part(self, view: View) -> object:
        """The crew and the link."""
        return view.crew, view.link

    def lines(self, width: int) -> list[Content]:
        """The crew, then the link; what does not go into three lines is left out."""
        return wrapped(crew_text(self.view.crew, self.view.link), width)[:3]
