"""What is heard before anything is set: listened to for somebody who will say what is what."""
