"""The drill: a read-out session to practise typing on, with nothing stored."""
