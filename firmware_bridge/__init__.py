"""From bytes on a cable to indications."""
