"""From a reading to what to hang: the room model learns, and a treatment is proposed."""
