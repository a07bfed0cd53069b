"""Live: what is played now goes through the same model as a file does, and nothing of it is lost.

    port thread      stamps a message and puts it into a queue, nothing else        (listen.Listener, sources.ports)
    consumer         journal, then `Session`: the only one who touches the model    (listen.Listener)
    main thread      draws snapshots, or prints lines, and hears keys               (views)
    clerk            brings the journal to the disk every second, writes files      (clerk.Clerk)

`Session` and all below it (take, grid, transport, saving) read no clock, start no thread and open no file:
what is judged live, what `recover` makes of a journal and what the tests feed them is judged by the same
code.
"""
