"""What all clinics share: which name and which token belong to which clinic."""
