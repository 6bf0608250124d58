import { UnplannedSection } from '../parts/unplanned.tsx';

export function HuddlePage() {
  return <UnplannedSection page="huddle" plan={null} />;
}
