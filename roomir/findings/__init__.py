"""What a room does besides ringing: flutter, echoes, coupled rooms, modes."""
