export const unnamed = 1;
