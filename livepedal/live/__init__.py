"""Live: what is played now goes through the same model as a file does, and nothing of it is lost.

    thread of a port   stamps a message and puts it into a queue, nothing else       (sources.ports, listen)
    hearing            writes what comes into the journal and passes it on; judges nothing        (hearing)
    judging            feeds the `Session`, which no other thread touches; may fall behind        (judging)
                       what is settled becomes words, goes into the history, and goes out:
                       answers, passages to be heard again                     (show, chapters, answering, again)
    outputs            a process beside for each MIDI output, since sending may block        (sources.ports.outputs)
    clerk, sync        write the files; bring the journal to the disk every second                (clerk)
    nearest            what could be played instead of an attack that cannot be                   (nearest)
    advice             a process beside, which looks for remedies of passages that are over  (advisor, advising)
    ports              looks five times a second which ports there are                            (plugged)
    main thread        draws pictures, or prints lines, and hears keys               (listen, views, cli.line_mode)

A fault in one of them stops no other (faults). `Listener` (listen) puts them together, and begins and
ends them (stages).

`Session` and all below it (take, grid, transport, saving) read no clock, start no thread and open no file:
what is judged live, what `recover` makes of a journal and what the tests feed them is judged by the same
code.
"""
