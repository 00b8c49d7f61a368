"""Who may join, and that nobody else reads or changes what a crew says.

Pairing is SPAKE2 (RFC 9382's kind of exchange) by the library ``spake2``: written and kept by
the author of a file-transfer tool that has paired strangers by short spoken codes with it for
ten years, pure Python on ``cryptography``, MIT, 15 ms a side. Weighed against it: ``opaque``
(needs libopaque's C library, GPL), ``pyopaque`` (last released 2012, another thing),
``cpace`` (0.1, this summer), ``noiseprotocol`` (no password, last released 2020) and
``dissononce`` (2019). The same exchange runs again at every reconnection, then with the
crew's 256-bit secret in the place of the code, so that one well-known exchange gives fresh
keys each time, and nothing recorded earlier can be read with what is stolen later.
Everything after it is ChaCha20-Poly1305 from ``cryptography``.

A stranger on the network can see that two machines speak Runner, when and how much; can cut,
delay and drop it, which is said to both people as a lost link; can offer crews of his own
under any name, which no right code opens; can use up a code's five guesses, so that a new one
has to be made; can take up the places of a hub, so that who was cut off waits until he tires
(who is connected stays so); can announce the crew's room, so that who looks for the crew
connects to him too, and learns nothing; can guess: five in a million per code. He cannot
read, change, repeat or reorder anything, nor join.

A stranger on the broker, or whoever runs it, can do the same, and sees which room speaks,
with how many members, and when each is connected; can forge presence, which is only a hint
to try and is believed of nobody until its own machine has proved itself. The retained
messages carry no content.

A hostile partner, let in by a person who told the code, can answer wrongly, order events as
the orderer in an order or in a name that pleases, refuse to order, go silent or flood (what
is beyond the rate is dropped), let others in, and keep what was said. He cannot take back what has
counted on the other machine, bring an event that is none into the engine (``checked``), make a file
outside the run be read or written (the protocol has no message that names a file to fetch),
stop the other from going on alone, or impersonate a third member to the orderer: each has a
signing key of its own. An observer is such a partner who cannot propose.
"""
