"""What delivery tickets tell of the day: ages, order of arrival, the queue, stops, and how long edges waited."""
