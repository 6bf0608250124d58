import { UnplannedSection } from '../parts/unplanned.tsx';

export function ReferralPage() {
  return <UnplannedSection page="referral" plan={null} />;
}
