export const page = 'page';
