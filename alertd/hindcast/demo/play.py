"""The demo: one invented winter, with the same watch, store and relay as the daemon, and a clock that runs ahead."""

from __future__ import annotations

import time
from contextlib import redirect_stdout
from dataclasses import dataclass, field
from datetime import timedelta
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from alertd.config import load
from alertd.site import Condition
from alertd.store import Store
from alertd.watch import Watch, done, mark, readership

from .files import write_files
from .people import MARKS, Habit, People
from .post import LETTERS_DIRECTORY, Post
from .script import FIRST_DAY, LAST_DAY
from .source import DemoSource
from .story import CHAPTERS, answer_line, mark_line, narrated
from .tally import meetings, summary
from .weather import demo_weather, local_midnight

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime
    from typing import TextIO

    from alertd.alerts import Alert, Decision, Transition
    from alertd.config import Loaded
    from alertd.messages import Letter

    from .people import Answer
    from .tally import Meeting
    from .weather import DemoWeather

#: What the demo's configuration is called, in this package and in the directory that the demo is given.
CONFIGURATION_FILE = "demo.toml"


@dataclass(frozen=True, slots=True)
class Played:
    """What came of the demo.

    Parameters
    ----------
    loaded : Loaded
        The configuration that was played.
    letters : tuple of Letter
        All of them, in order.
    transitions : tuple of (datetime, Transition)
        Steps in the lives of alerts that an evaluation made, with their times, aware UTC.
    answers : tuple of Answer
        What people reported, in order.
    alerts : tuple of Alert
        As they stood at the end, in order of opening.
    conditions : mapping of str to list of (datetime, Condition)
        By group id: from when on it stood how.
    evaluations : int
        How many.
    accepted : int
        Letters that a channel has accepted.
    meetings : tuple of Meeting
        How the groups met the cold that would have hurt them without any help.
    summary : str
        What the demo tells at its end.
    """

    loaded: Loaded
    letters: tuple[Letter, ...]
    transitions: tuple[tuple[datetime, Transition], ...]
    answers: tuple[Answer, ...]
    alerts: tuple[Alert, ...]
    conditions: dict[str, list[tuple[datetime, Condition]]]
    evaluations: int
    accepted: int
    meetings: tuple[Meeting, ...]
    summary: str


def play(out: Path | None, stream: TextIO, *, pace: float = 0.0, sleep: Callable[[float], None] = time.sleep) -> Played:
    """Play the demo's winter.

    Parameters
    ----------
    out : Path or None
        Directory for the configuration, the database, the letters and the weather; made if it is missing. What an
        earlier demo left there is replaced, other files stay. ``None`` keeps nothing.
    stream : file
        Takes the story and the letters.
    pace : float
        [s] Pause after each letter, for an audience.
    sleep : callable
        Waits for so many seconds.

    Returns
    -------
    Played
        Everything that was said and done.

    Raises
    ------
    OSError
        If the directory or the stream cannot be written.
    StoreError
        If the database cannot be written.
    """
    if out is None:
        with TemporaryDirectory(prefix="alertd-demo-") as directory:
            return _play(Path(directory), stream, pace, sleep)
    write_files(out)
    return _play(out, stream, pace, sleep)


def _play(directory: Path, stream: TextIO, pace: float, sleep: Callable[[float], None]) -> Played:
    """Play the demo in a directory."""
    path = directory / CONFIGURATION_FILE
    path.write_text(files(__package__).joinpath(CONFIGURATION_FILE).read_text("utf-8"), encoding="utf-8", newline="\n")
    loaded = load(path, {})
    _clear(loaded.database, directory / LETTERS_DIRECTORY)
    with Store.open(loaded.database, durable=False) as store, redirect_stdout(stream):
        player = _Player(loaded, store, Post(loaded, store, stream, lambda: sleep(pace)), stream)
        try:
            player.play()
        finally:
            player.post.stop()
        return player.played()


def _clear(database: Path, letters: Path) -> None:
    """Remove what an earlier demo left."""
    for ending in ("", "-wal", "-shm"):
        database.with_name(database.name + ending).unlink(missing_ok=True)
    for pattern in ("*Z-*.txt", "*Z-*.html"):
        for letter in letters.glob(pattern):
            letter.unlink()


@dataclass(slots=True)
class _Player:
    """Steps the clock through the winter."""

    loaded: Loaded
    store: Store
    post: Post
    stream: TextIO
    start: datetime = local_midnight(FIRST_DAY) + timedelta(hours=1)
    evaluations: int = 0
    weather: DemoWeather = field(init=False)
    watch: Watch = field(init=False)
    people: People = field(init=False)
    transitions: list[tuple[datetime, Transition]] = field(default_factory=list)
    answers: list[Answer] = field(default_factory=list)
    conditions: dict[str, list[tuple[datetime, Condition]]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Set up the watch, as the daemon does."""
        (source,) = self.loaded.sources
        self.weather = demo_weather()
        sources = (DemoSource(source.name, self.weather, source.credits or ""),)
        self.watch = Watch(self.loaded.garden, sources, readership(self.loaded), self.store)
        self.people = People(self.loaded.garden)

    def play(self) -> None:
        """Evaluate as the daemon does, and let people answer in between."""
        now, end = self.start, local_midnight(LAST_DAY + timedelta(days=1))
        self.conditions = {group.group_id: [(now, Condition())] for group in self.loaded.garden.groups}
        look = now
        while now < end:
            self._narrate(now)
            self._report(now)
            if now == look:
                self._evaluate(now)
                look = self._next_look(now)
            now = self._next(now, look)

    def played(self) -> Played:
        """Return what came of it."""
        alerts = tuple(sorted(self.store.all_alerts(), key=lambda alert: (alert.opened.sent, alert.alert_id)))
        notices = [step.notice for _, step in self.transitions if step.notice is not None]
        garden, letters = self.loaded.garden, self.post.letters()
        met = meetings(garden, self.weather.winter(), alerts, self.conditions)
        text = summary(garden, letters, notices, met)
        self._say(text)
        return Played(
            loaded=self.loaded,
            letters=letters,
            transitions=tuple(self.transitions),
            answers=tuple(self.answers),
            alerts=alerts,
            conditions=self.conditions,
            evaluations=self.evaluations,
            accepted=self.post.accepted(),
            meetings=met,
            summary=text,
        )

    def _next_look(self, now: datetime) -> datetime:
        """Return when the watch looks next: after its usual pause, or when a reminder or a call is due."""
        every = self.loaded.polling.every
        following = self.start + ((now - self.start) // every + 1) * every
        return min(following, self.watch.next_call(now) or following)

    def _next(self, now: datetime, look: datetime) -> datetime:
        """Return when something happens next."""
        others = (self.people.next_answer(), *(at for _, _, at in MARKS), *(at for at, _ in CHAPTERS))
        return min(look, *(each for each in others if each is not None and each > now), look)

    def _narrate(self, now: datetime) -> None:
        """Tell what the story says by itself."""
        for at, text in CHAPTERS:
            if at == now:
                self._say(narrated(text, at, self.loaded.garden.site))

    def _report(self, now: datetime) -> None:
        """Let people report and mark what they do now."""
        garden, store = self.loaded.garden, self.store
        names = {group.group_id: group.name for group in garden.groups}
        for answer in self.people.due_answers(now):
            done(garden, store, answer.alert_id, now, declined=answer.habit is Habit.DECLINES)
            self.answers.append(answer)
            self._say(answer_line(answer, names[answer.group], garden.site))
        for group_id, word, at in MARKS:
            if at == now:
                mark(garden, store, group_id, word, now)
                self._say(mark_line(word, names[group_id], at, garden.site))

    def _evaluate(self, now: datetime) -> None:
        """Judge once, send what there is to say, and let people read it."""
        decision = self.watch.evaluate(now)
        self.evaluations += 1
        self._remember(decision)
        if decision.notices:
            self.post.carry(now)
        for notice in decision.notices:
            self.people.read(notice, now)

    def _remember(self, decision: Decision) -> None:
        """Keep the steps of alerts, and how each group stood."""
        self.transitions += [(decision.now, step) for step in decision.transitions]
        for group, condition in decision.conditions.items():
            if self.conditions[group][-1][1] != condition:
                self.conditions[group].append((decision.now, condition))

    def _say(self, line: str) -> None:
        self.stream.write(f"\n{line}\n")
