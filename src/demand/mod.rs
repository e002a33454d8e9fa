//! How many lamps will be needed, from the ages of those that burn today.
