"""What happens: a batch kept, limbs assessed, mail and reminders sent."""
