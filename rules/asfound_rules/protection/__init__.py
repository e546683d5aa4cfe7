"""Protection by place: ground-fault and arc-fault protection, circuits of rooms, tubs and showers."""
