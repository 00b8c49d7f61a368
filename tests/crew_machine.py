"""A member as a process of its own: proposes each line of its input, prints what is heard.

python crew_machine.py FOLDER NAME hub PORT
python crew_machine.py FOLDER NAME spoke PORT [ROOM SECRET]
python crew_machine.py FOLDER NAME broker PORT [ROOM SECRET]     (hub-broker: opens)
"""

from __future__ import annotations

import asyncio
import json
import sys
from pathlib import Path

from crew_people import Person
from runner.crew.core.happenings import Lost, Present, Settled, Turned, TwoRuns
from runner.crew.far import Far, read_broker
from runner.crew.near import Hub, Spoke
from runner.crew.trust.code import Code


def tell(**what: object) -> None:
    print(json.dumps(what), flush=True)


async def main() -> None:
    folder, name, how, port = Path(sys.argv[1]), sys.argv[2], sys.argv[3], int(sys.argv[4])
    code = Code(*sys.argv[5:7]) if len(sys.argv) > 5 else None
    opens = how.startswith("hub")
    if how == "hub":
        way = Hub("127.0.0.1", port)
    elif how == "spoke":
        way = Spoke([("127.0.0.1", port)])
    else:
        way = Far(read_broker(f"mqtt://127.0.0.1:{port}"), "4821", opens=opens)
    person = Person(folder, name, way, opens=opens, code=code)
    tell(begins=person.crew.member.settled)
    asyncio.get_running_loop().call_soon(lambda: None)
    told = 0

    def take(notice) -> None:
        nonlocal told
        Person.take(person, notice)
        match notice:
            case Settled():
                for text in person.heard[told:]:
                    tell(heard=text)
                told = len(person.heard)
            case Lost() | Present() | Turned() | TwoRuns():
                tell(notice=type(notice).__name__)

    person.crew._on_notice = take
    for text in person.heard:
        tell(heard=text)
    told = len(person.heard)
    reader = asyncio.StreamReader()
    await asyncio.get_running_loop().connect_read_pipe(
        lambda: asyncio.StreamReaderProtocol(reader), sys.stdin
    )
    while line := (await reader.readline()).decode().strip():
        if line == "code":
            made = person.crew.new_code()
            tell(code=[made.room, made.secret])
        elif line == "list":
            member = person.crew.member
            tell(list=[entry.text for entry in member.log], settled=member.settled)
        else:
            person.crew.propose(line)
    await person.stop()


if __name__ == "__main__":
    asyncio.run(main())
