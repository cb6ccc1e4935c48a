"""One function per use case: who may, what is read, what is computed, what is written. No SQL, no HTTP."""
