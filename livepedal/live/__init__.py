"""Live: what is played now goes through the same model as a file does, and none of it is lost.

    thread of a port   stamps a message and enqueues it, nothing else                 (sources.ports, hearing)
    hearing            writes what comes into the journal and passes it on; judges nothing           (hearing)
    judging            feeds the `Session`, which no other thread touches; may fall behind           (judging)
                       news becomes words, goes into the history, and is answered    (show, chapters, answering)
    outputs            a process beside for each MIDI output, since sending may block  (sources.ports.outputs)
    clerk, sync        write the files; sync the journal to the disk every second              (clerk, listen)
    nearest            works out what could be played instead of an attack that cannot be            (nearest)
    advice             a process beside that looks for remedies of closed passages         (advisor, advising)
    ports              checks five times a second which ports there are                              (plugged)
    main thread        draws pictures, or prints lines, and hears keys          (listen, views, cli.line_mode)

A fault in one of them stops no other (faults). `Listener` (listen) puts them together, begins and ends them.

`Session` and what it is made of (take, piece, grid, transport) read no clock, start no thread and open no file. So live
music, a journal that is recovered and what the tests feed them are judged by the same code.
"""
