"""Plans: ways of breaking a workout up, what each would bring, and which one is advised."""
