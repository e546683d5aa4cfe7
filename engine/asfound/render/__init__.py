"""Results as documents. Gives text or plain values; prints nothing."""
