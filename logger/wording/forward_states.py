"""How forwarding stands, short enough for a line of the monitor."""

from logger.domain.forward_status import ForwardState

STATE_TEXTS = {
    ForwardState.CAUGHT_UP: "up to date",
    ForwardState.SENDING: "sending",
    ForwardState.SERVER_DOWN: "the server does not answer",
    ForwardState.NOT_TRUSTED: "the server's certificate is not trusted",
    ForwardState.SERVER_BUSY: "the server asks to wait",
    ForwardState.SERVER_FAULT: "the server reports a fault of its own",
    ForwardState.DISK_FULL: "the server's disk is full",
    ForwardState.WRONG_TOKEN: "the server refuses the token",
    ForwardState.NO_BUCKET: "the server does not know the place",
    ForwardState.CLOCK_WRONG: "this machine's clock is wrong",
    ForwardState.SILENT: "the forwarder does not run",
}
