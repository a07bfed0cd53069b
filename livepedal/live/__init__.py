"""Live: what is played now goes through the same model as a file does, and nothing of it is lost.

    thread of a port   stamps a message and puts it into a queue, nothing else       (sources.ports)
    consumer           journal, then `Session`; no one else touches the model        (listen)
    main thread        draws snapshots, or prints lines, and hears keys              (views, cli.line_mode)
    sync, clerk        bring the journal to the disk every second; write the files   (listen)
    advice             a process beside, which looks for remedies of passages that are over  (advisor, advising)
    ports              looks five times a second which ports there are                    (listen, sources.ports)

`Session` and all below it (take, grid, transport, saving) read no clock, start no thread and open no file:
what is judged live, what `recover` makes of a journal and what the tests feed them is judged by the same
code.
"""
