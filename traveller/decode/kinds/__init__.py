"""One file for each kind of thing that a stranger may send. Each has, for the child,

- `rehearse(asked)`: the whole way once with bytes of our own, so that nothing has to be imported or opened later;
- `decode(asked, blobs) -> facts, blobs`: the stranger's bytes; it may raise whatever it likes.
"""
